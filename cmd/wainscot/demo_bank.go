package main

import (
	"bytes"
	"context"
	"encoding/base64"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"time"

	"github.com/shopspring/decimal"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// The demo's bank. Nobody's bank sends a file for days that move with today, so
// its statement is written here: what the books say went through the account, in
// the bank's words, and on the last day what nobody has entered yet.

// bankOpened is what the account held before its first line.
const bankOpened = "0.00"

// bankNumber of the account: the example of the standard for account numbers.
const bankNumber = "GB82WEST12345698765432"

// bank takes in the bank's statement, of which what is certain is applied.
func (t *teller) bank(ctx context.Context) error {
	books, err := t.signIn(ctx, auth.Books)
	if err != nil {
		return err
	}
	owner, err := t.signIn(ctx, auth.Owner)
	if err != nil {
		return err
	}
	t.kept = map[string]any{}
	for _, s := range []struct{ keeps, token, ask, from, body string }{
		{"", owner, "PUT /v1/books", "/v1/books", `{"slot_waits_for_deposit": true, "apply_certain": true, "codes": [{"account": "bank", "code": "1200"}, {"account": "deposits not yet earned", "code": "2110"}, {"account": "sales", "code": "4000"}]}`},
		{"map", books, "POST /v1/column-maps", "", `{"name": "From the bank", "columns": {"between": ",", "day": "Date", "day_order": "year month day", "amount": "Amount", "decimal": ".", "words": ["Details"], "balance": "Balance"}}`},
		{"account", books, "POST /v1/bank-accounts", "", `{"name": "Current account", "number": "` + bankNumber + `", "currency": "GBP", "holds": "bank", "columns": "<map.id>"}`},
		{"", books, "POST /v1/set-aside-rules", "", `{"name": "Wages", "words": "WAGES", "side": "out"}`},
	} {
		if err := t.ask(ctx, storyStep{Ask: s.ask, From: s.from, Body: s.body, Keeps: s.keeps}, s.token); err != nil {
			return err
		}
	}
	file, err := t.statement(ctx, books)
	if err != nil {
		return err
	}
	body, err := json.Marshal(map[string]any{"account": t.kept["account"].(map[string]any)["id"], "content": base64.StdEncoding.EncodeToString(file)}) //nolint:errcheck,forcetypeassert // it was kept a moment ago
	if err != nil {
		return err
	}
	_, _, err = t.send(ctx, http.MethodPost, "/v1/statements", books, "", body)
	return err
}

// statement is the bank's file, as CSV with a balance in each line.
func (t *teller) statement(ctx context.Context, token string) ([]byte, error) {
	var entries openapi.LedgerEntries
	if err := t.read(ctx, token, "/v1/books/entries?limit=100", &entries); err != nil {
		return nil, err
	}
	var out bytes.Buffer
	w := csv.NewWriter(&out)
	balance := decimal.RequireFromString(bankOpened)
	put := func(day, details, amount string) error {
		d, err := decimal.NewFromString(amount)
		if err != nil {
			return err
		}
		balance = balance.Add(d)
		return w.Write([]string{day, details, amount, balance.StringFixed(2)})
	}
	if err := w.Write([]string{"Date", "Details", "Amount", "Balance"}); err != nil {
		return nil, err
	}
	for _, e := range entries.Entries {
		for _, l := range e.Lines {
			if l.Account != "bank" {
				continue
			}
			details, err := t.bankWords(ctx, token, &e)
			if err == nil {
				err = put(e.Day, details, l.Amount.Amount)
			}
			if err != nil {
				return nil, err
			}
		}
	}
	var dues openapi.Dues
	if err := t.read(ctx, token, "/v1/dues?until="+t.today.Format(time.DateOnly), &dues); err != nil {
		return nil, err
	}
	day := t.today.AddDate(0, 0, -1).Format(time.DateOnly)
	for i, d := range dues.Dues {
		reference := d.Reference
		if i > 1 {
			break
		}
		if i == 1 { // a slip at the last digit, which the check digits tell
			last := len(reference) - 1
			reference = reference[:last] + string('0'+(reference[last]-'0'+1)%10)
		}
		if err := put(day, "FASTER PAYMENT "+reference, d.Payment.Open.Amount); err != nil {
			return nil, err
		}
	}
	if err := put(day, "WAGES", "-1840.00"); err != nil {
		return nil, err
	}
	if err := put(day, "CASH PAID IN, NO NAME", "75.00"); err != nil {
		return nil, err
	}
	w.Flush()
	return out.Bytes(), w.Error()
}

// bankWords are what the bank writes beside what the books have entered.
func (t *teller) bankWords(ctx context.Context, token string, e *openapi.LedgerEntry) (string, error) {
	switch e.Kind {
	case "paid out":
		return "CARD SETTLEMENT", nil
	case "refunded":
		return "REFUND SENT", nil
	case "received":
	default:
		return strings.ToUpper(string(e.Kind)), nil
	}
	var r openapi.Receipt
	if err := t.read(ctx, token, "/v1/receipts/"+e.Document, &r); err != nil || len(r.Placements) == 0 {
		return "TRANSFER VAN", err
	}
	var a openapi.JobAccount
	err := t.read(ctx, token, "/v1/jobs/"+r.Placements[0].Job+"/account", &a)
	return "FASTER PAYMENT " + a.Reference, err
}

// read asks for something and reads it.
func (t *teller) read(ctx context.Context, token, where string, into any) error {
	answer, _, err := t.send(ctx, http.MethodGet, where, token, "", nil)
	if err != nil {
		return err
	}
	text, err := json.Marshal(answer)
	if err != nil {
		return err
	}
	return json.Unmarshal(text, into)
}

// showBank prints what the bank's lines were found to be, what they leave to be
// confirmed, and that the account comes to what the books say.
func (p *program) showBank(ctx context.Context, bookkeeper client) error {
	accounts, err := openapi.Read[openapi.BankAccounts](bookkeeper.ListBankAccounts(ctx)) //nolint:bodyclose // Read does
	if err != nil || len(accounts.Body.Accounts) == 0 {
		return err
	}
	id := accounts.Body.Accounts[0].Id
	counts := map[string]int{}
	for _, state := range []openapi.LineState{"reconciled", "set aside", "open"} {
		limit := int32(100)
		lines, err := openapi.Read[openapi.StatementLines](bookkeeper.ListStatementLines(ctx, &openapi.ListStatementLinesParams{State: &state, Limit: &limit})) //nolint:bodyclose // Read does
		if err != nil {
			return err
		}
		counts[string(state)] = len(lines.Body.Lines)
	}
	left, err := openapi.Read[openapi.LinesToReconcile](bookkeeper.ListToReconcile(ctx, id, &openapi.ListToReconcileParams{})) //nolint:bodyclose // Read does
	if err != nil {
		return err
	}
	fmt.Fprintf(p.Out, "\nThe bank's statement: %d lines reconciled, %d set aside, %d left to confirm\n", counts["reconciled"], counts["set aside"], counts["open"])
	table := grid{columns: []column{{title: "day"}, {title: "amount", right: true}, {title: "the bank says"}, {title: "it may be"}}}
	for _, l := range left.Body.Lines {
		says := "nothing that is known"
		if len(l.Proposals) > 0 {
			says = l.Proposals[0].Says
		}
		table.add(l.Line.Day, l.Line.Amount.Amount, l.Line.Words, says)
	}
	table.write(p.Out, 2, lineWidth)
	b := left.Body.Books
	fmt.Fprintf(p.Out, "  The bank holds %s; less %s open and %s set aside, with %s waiting, that is %s in the books; the difference is %s.\n",
		b.Closing.Amount, b.Open.Amount, b.SetAside.Amount, b.Waiting.Amount, b.Books.Amount, b.Difference.Amount)
	return nil
}
