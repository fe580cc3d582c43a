package apitest

import (
	"bytes"
	"compress/gzip"
	"encoding/base64"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// bankCSV is a file of the demo bank: day, words, name, account, amount, balance.
func bankCSV(rows ...string) []byte {
	return []byte("Date,Details,Name,Account,Amount,Balance\n" + strings.Join(rows, "\n") + "\n")
}

func sentFile(file []byte) string { return base64.StdEncoding.EncodeToString(file) }

func (s seller) columnMaps() []openapi.ColumnMap {
	s.t.Helper()
	return askAs[openapi.ColumnMaps](s, auth.Books, http.MethodGet, "/v1/column-maps", "", nil, http.StatusOK).ColumnMaps
}

// bank adds an account with a map of its columns, and gives its id.
func (s seller) bank() string {
	s.t.Helper()
	m := askAs[openapi.ColumnMap](s, auth.Books, http.MethodPost, "/v1/column-maps", "", map[string]any{"name": "The bank's CSV", "columns": map[string]any{
		"between": ",", "day": "Date", "day_order": "day month year", "amount": "Amount", "decimal": ".", "words": []string{"Details"}, "party": "Name", "party_account": "Account", "balance": "Balance",
	}}, http.StatusCreated)
	return askAs[openapi.BankAccount](s, auth.Books, http.MethodPost, "/v1/bank-accounts", "", map[string]any{
		"name": "Current", "number": "GB82WEST12345698765432", "currency": "GBP", "holds": "bank", "columns": m.Id,
	}, http.StatusCreated).Id
}

// bring takes in a file of an account.
func (s seller) bring(account string, file []byte, status int) openapi.StatementImport {
	s.t.Helper()
	return askAs[openapi.StatementImport](s, auth.Books, http.MethodPost, "/v1/statements", "", map[string]any{"account": account, "content": sentFile(file)}, status)
}

// statement is one that came in.
func (s seller) statement() openapi.ImportedStatement {
	s.t.Helper()
	account := askAs[openapi.BankAccounts](s, auth.Books, http.MethodGet, "/v1/bank-accounts", "", nil, http.StatusOK).Accounts[0].Id
	return s.bring(account, bankCSV("02/11/2026,deposit,A CUSTOMER,GB2,250.00,350.00", "03/11/2026,Wages Nov,T CARDEW,GB3,-180.00,170.00"), http.StatusCreated).Statements[0]
}

func (s seller) lines(query string) openapi.StatementLines {
	s.t.Helper()
	return askAs[openapi.StatementLines](s, auth.Books, http.MethodGet, "/v1/statement-lines"+query, "", nil, http.StatusOK)
}

func (s seller) proof(account, query string) openapi.BankAccountProof {
	s.t.Helper()
	return askAs[openapi.BankAccountProof](s, auth.Books, http.MethodGet, "/v1/bank-accounts/"+account+"/proof"+query, "", nil, http.StatusOK)
}

// told is a proof as one can read it.
func toldProof(p openapi.BankAccountProof) string {
	sum := func(l openapi.LineSum) string { return fmt.Sprintf("%d %s", l.Lines, l.Amount.Amount) }
	s := fmt.Sprintf("%s: %s + reconciled %s + aside %s + open %s = %s; by age", p.On, p.Opening.Amount, sum(p.Reconciled), sum(p.SetAside), sum(p.Open), p.Closing.Amount)
	for _, a := range p.OpenByAge {
		s += fmt.Sprintf(" %d-%d: %d %s", a.FromDays, a.UntilDays, a.Lines, a.Amount.Amount)
	}
	return s
}

// TestStatementsOverTheAPI: files come in, again, over one another, broken; rules
// and hands set lines aside; the balance is proved on any day.
func TestStatementsOverTheAPI(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	account := s.bank()
	refused := func(file []byte, code string, words ...string) {
		t.Helper()
		g := s.do(auth.Books, http.MethodPost, "/v1/statements", "", map[string]any{"account": account, "content": sentFile(file)})
		p := g.problem(t)
		if g.status != http.StatusUnprocessableEntity || p.Code != openapi.ProblemCodeDocumentRefused || len(p.Errors) == 0 || p.Errors[0].Code != code {
			t.Fatalf("%d %s, want %s", g.status, g.body, code)
		}
		for _, word := range words {
			if !strings.Contains(p.Errors[0].Reason, word) {
				t.Errorf("%q does not say %q", p.Errors[0].Reason, word)
			}
		}
	}
	october := bankCSV("26/08/2026,old,A,,5.00,105.00", "30/10/2026,deposit,B CUSTOMER,GB2,250.00,355.00", "30/10/2026,Wages Oct,T CARDEW,GB3,-180.00,175.00")
	refused([]byte("Date,Details\n"), "no_column")
	refused(bankCSV("30/10/2026,a,,,1.00,1.00", "31/10/2026,a,,,1.00,3.00"), "does_not_add_up", "Line 3")
	refused(bankCSV("32/10/2026,a,,,1.00,1.00"), "no_day", "Line 2")
	refused([]byte{0x1f, 0x8b, 1}, "not_whole")
	if n := len(s.lines("").Lines); n != 0 {
		t.Fatalf("broken files brought %d lines", n)
	}
	first := s.bring(account, october, http.StatusCreated)
	if st := first.Statements; len(st) != 1 || st[0].NewLines != 3 || st[0].Closing.Amount != "175.00" {
		t.Fatalf("%+v", first)
	}
	again := s.bring(account, packed(t, october), http.StatusOK)
	if st := again.Statements[0]; st.Id != "" || st.NewLines != 0 || st.Lines != 3 {
		t.Errorf("again: %+v", again)
	}
	refused(bankCSV("05/11/2026,later,,,1.00,99.00"), "does_not_follow", "176.00 GBP", "99.00 GBP")
	ofx := []byte("OFXHEADER:100\n\n<OFX><BANKMSGSRSV1><STMTTRNRS><STMTRS><CURDEF>GBP<BANKACCTFROM><ACCTID>9</BANKACCTFROM><BANKTRANLIST></BANKTRANLIST></STMTRS></STMTTRNRS></BANKMSGSRSV1></OFX>")
	refused(ofx, "other_account")

	// A rule takes what is there and what comes; what is taken back by hand stays.
	rule := askAs[openapi.SetAsideRuleTurned](s, auth.Owner, http.MethodPost, "/v1/set-aside-rules", "", map[string]any{"name": "Wages", "words": "wages", "side": "out"}, http.StatusCreated)
	if rule.Lines != 1 {
		t.Errorf("the rule took %d lines", rule.Lines)
	}
	second := s.bring(account, bankCSV("30/10/2026,Wages Oct,T CARDEW,GB3,-180.00,175.00", "02/11/2026,Wages bonus,T CARDEW,GB3,-20.00,155.00", "03/11/2026,coffee,,,-5.00,150.00"), http.StatusCreated)
	if st := second.Statements[0]; st.NewLines != 2 || st.SetAside != 1 {
		t.Errorf("%+v", second)
	}
	turn := func(id, how string, status int) {
		t.Helper()
		if g := s.do(auth.Books, http.MethodPost, "/v1/statement-lines/"+id+"/"+how, "", nil); g.status != status {
			t.Errorf("%s: %d %s", how, g.status, g.body)
		}
	}
	find := func(words string) openapi.StatementLine {
		t.Helper()
		all := s.lines("?account=" + account + "&limit=100").Lines
		i := slices.IndexFunc(all, func(l openapi.StatementLine) bool { return l.Words == words })
		if i < 0 {
			t.Fatalf("no line says %q", words)
		}
		return all[i]
	}
	turn(find("coffee").Id, "set-aside", http.StatusOK)
	turn(find("coffee").Id, "set-aside", http.StatusConflict)
	turn(find("Wages bonus").Id, "take-back", http.StatusOK)
	if l := find("Wages bonus"); l.State != openapi.LineStateOpen || !l.KeptOpen || l.Rule != "" {
		t.Errorf("%+v", l)
	}
	for on, want := range map[string]string{
		"?on=2026-11-30": "2026-11-30: 100.00 + reconciled 0 0.00 + aside 2 -185.00 + open 3 235.00 = 150.00; by age 0-7: 0 0.00 8-30: 1 -20.00 31-90: 1 250.00 91-0: 1 5.00",
		"?on=2026-10-31": "2026-10-31: 100.00 + reconciled 0 0.00 + aside 1 -180.00 + open 2 255.00 = 175.00; by age 0-7: 1 250.00 8-30: 0 0.00 31-90: 1 5.00 91-0: 0 0.00",
		"?on=2026-08-25": "2026-08-25: 100.00 + reconciled 0 0.00 + aside 0 0.00 + open 0 0.00 = 100.00; by age 0-7: 0 0.00 8-30: 0 0.00 31-90: 0 0.00 91-0: 0 0.00",
	} {
		if got := toldProof(s.proof(account, on)); got != want {
			t.Errorf("%s\nwant %s", got, want)
		}
	}
	ended := askAs[openapi.SetAsideRuleTurned](s, auth.Owner, http.MethodPost, "/v1/set-aside-rules/"+rule.Rule.Id+"/end", `"1"`, map[string]any{"take_back": true}, http.StatusOK)
	if ended.Lines != 1 || !ended.Rule.Ended || find("Wages Oct").State != openapi.LineStateOpen {
		t.Errorf("%+v", ended)
	}
	page := s.lines("?state=open&from=2026-09-01&limit=2")
	if len(page.Lines) != 2 || page.Next == "" {
		t.Fatalf("%+v", page)
	}
	rest := s.lines("?state=open&from=2026-09-01&limit=2&cursor=" + page.Next)
	if len(rest.Lines) != 1 || rest.Lines[0].Words != "Wages bonus" || rest.Next != "" {
		t.Errorf("%+v", rest)
	}
	if g := s.do(auth.Books, http.MethodGet, "/v1/statement-lines?state=open&cursor="+page.Next, "", nil); g.status != http.StatusBadRequest {
		t.Errorf("a cursor of another list: %d", g.status)
	}
	if list := askAs[openapi.Statements](s, auth.Books, http.MethodGet, "/v1/statements?account="+account, "", nil, http.StatusOK); len(list.Statements) != 2 || list.Statements[0].NewLines != 2 {
		t.Errorf("%+v", list)
	}
	w.verify(t, w.Ours)
}

func packed(tb testing.TB, file []byte) []byte {
	tb.Helper()
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	if _, err := z.Write(file); err != nil {
		tb.Fatal(err)
	}
	if err := z.Close(); err != nil {
		tb.Fatal(err)
	}
	return b.Bytes()
}
