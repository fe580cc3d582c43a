package api

import (
	"errors"
	"fmt"
	"net/http"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/store"
	"wainscot/bom/document"
	"wainscot/openapi"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
	"wainscot/pricing/receipt"
)

// meant is what a line is said to be: money for jobs, entries that it shows,
// a payout of card takings, or money that nobody can place yet.
type meant struct {
	parts    []part
	payer    uuid.UUID
	entries  []int64
	taken    *money.Amount
	unplaced bool
}

// reconcile says what a line is, enters what that makes, in a transaction.
func reconcile(tx store.WriteTx, g *moneyGround, line uuid.UUID, x meant, certain bool) (store.Reconciliation, error) {
	l, err := tx.StatementLine(line)
	if err != nil {
		return store.Reconciliation{}, err
	}
	if l.State != store.LineOpen {
		return store.Reconciliation{}, store.ErrState
	}
	b, err := tx.BankAccount(l.Account)
	if err != nil {
		return store.Reconciliation{}, err
	}
	var made store.Made
	customer := x.payer
	switch {
	case len(x.entries) > 0:
		made.Shows, err = x.entries, showing(tx.ReadTx, &b, &l, x.entries)
		if err == nil && customer == uuid.Nil {
			customer, err = partyOf(tx.ReadTx, x.entries)
		}
	case x.taken != nil:
		made.Entry, err = enterPayout(tx, g, &b, &l, *x.taken)
		made.Shows = []int64{made.Entry}
	default:
		if customer == uuid.Nil {
			customer = payerOf(x.parts)
		}
		made, err = enterReceipt(tx, g, &b, &l, x, customer)
	}
	if err != nil {
		return store.Reconciliation{}, err
	}
	return tx.Reconcile(line, customer, certain, b.Holds, made)
}

// payerOf is the customer of all jobs that are paid; the nil id where they are
// several's.
func payerOf(parts []part) (id uuid.UUID) {
	for i, p := range parts {
		if i > 0 && p.job.Customer != id {
			return uuid.Nil
		}
		id = p.job.Customer
	}
	return id
}

// partyOf is the customer whom all entries are of; the nil id where they are
// several's, a supplier's, or nobody's.
func partyOf(tx store.ReadTx, entries []int64) (id uuid.UUID, err error) {
	for i, number := range entries {
		e, _, err := tx.LedgerEntry(number)
		if err != nil {
			return uuid.Nil, err
		}
		of := askedID(e.Party())
		if of == uuid.Nil || i > 0 && of != id {
			return uuid.Nil, nil
		}
		id = of
	}
	if _, err = tx.Customer(id); errors.Is(err, store.ErrNotFound) {
		return uuid.Nil, nil
	}
	return id, err
}

// showing holds entries against the line that is to show them.
func showing(tx store.ReadTx, b *store.BankAccount, l *store.StatementLine, entries []int64) error {
	sum := int64(0)
	for i, number := range entries {
		e, by, err := tx.LedgerEntry(number)
		at := document.Join("entries", i+1)
		switch {
		case errors.Is(err, store.ErrNotFound):
			return document.Faults{{Code: "no_entry", At: at, Reason: fmt.Sprintf("There is no entry %d.", number), Remedy: "Name one that waits for the bank."}}
		case err != nil:
			return err
		case by > 0:
			return document.Faults{{Code: "reversed", At: at, Reason: fmt.Sprintf("Entry %d was taken back by entry %d.", number, by), Remedy: "Name one that waits for the bank."}}
		}
		sum += e.On(b.Holds, b.Currency)
	}
	if sum != l.Amount.Minor() {
		comes, err := l.Amount.WithMinor(sum)
		if err != nil {
			return err
		}
		return document.Faults{{Code: "not_balanced", At: "entries", Reason: fmt.Sprintf("The entries come to %s on the account, the line to %s.", comes, l.Amount), Remedy: "Name those that come to the line."}}
	}
	return nil
}

// lineDocument is a line as what an entry is about.
func lineDocument(l *store.StatementLine) ledger.Document {
	return ledger.Document{Noun: "statement line", ID: l.ID.String()}
}

// enterPayout enters that card takings came to the bank; or went from it, where
// more was charged back than taken.
func enterPayout(tx store.WriteTx, g *moneyGround, b *store.BankAccount, l *store.StatementLine, taken money.Amount) (int64, error) {
	fee, err := taken.Sub(l.Amount)
	if err != nil || l.Amount.Sign() != taken.Sign() || fee.Sign() < 0 || b.Holds != ledger.Bank {
		return 0, document.Faults{{Code: "amount", At: "card_taken", Reason: "What was taken by card is less than what came, or nothing came to the bank.", Remedy: "Give all that was taken, less what was charged back."}}
	}
	lines, err := ledger.CardPayout(taken, fee)
	if err != nil {
		return 0, err
	}
	book, err := tx.Book(nil)
	if err != nil {
		return 0, err
	}
	done, err := book.Enter(ledger.Entry{Day: g.entryDay(l.Day), Kind: ledger.PaidOut, Document: lineDocument(l), Lines: lines})
	return done.Number, err
}

// enterReceipt makes a receipt of a line and places it.
func enterReceipt(tx store.WriteTx, g *moneyGround, b *store.BankAccount, l *store.StatementLine, x meant, payer uuid.UUID) (store.Made, error) {
	content, faults := receipt.New(receipt.Receipt{Day: l.Day, Into: b.Holds, Amount: l.Amount, Payer: contractID(payer), Foreign: l.Foreign, Line: l.ID.String()}, g.today)
	if len(faults) > 0 {
		return store.Made{}, faults
	}
	book, err := tx.Book(jobsOfParts(x.parts))
	if err != nil {
		return store.Made{}, err
	}
	r, err := tx.AddReceipt(book, content, g.entryDay(content.Day), "")
	if err == nil {
		r, err = placeParts(tx, g, book, r, x.parts, "parts/")
	}
	if err != nil {
		return store.Made{}, err
	}
	return store.Made{Receipt: r.ID.String(), Shows: []int64{r.Content.Entry}}, nil
}

// reconcileLine says what a line is.
func (s *Server) reconcileLine(c *gin.Context) error {
	asked, err := decode[openapi.Reconcile](c)
	if err != nil {
		return err
	}
	id, err := pathID(c, "line")
	if err != nil {
		return err
	}
	g, err := s.moneyGround(c)
	if err != nil {
		return err
	}
	x, err := s.explainedAsked(c, &asked, g.currency)
	if err != nil {
		return err
	}
	err = s.keep(c, func(tx store.WriteTx) (reply, error) {
		if x.payer != uuid.Nil {
			if _, err := tx.Customer(x.payer); err != nil {
				return reply{}, missingIs(err, "/payer", "customer")
			}
		}
		r, err := reconcile(tx, &g, id, x, false)
		if err != nil {
			return reply{}, moneyRefused(err)
		}
		return reply{status: http.StatusCreated, location: "/v1/reconciliations/" + r.ID.String(), version: r.Version, body: contractReconciliation(r)}, nil
	})
	return notFoundIs(err, "line")
}

// explainedAsked reads what a line is said to be: one of the ways.
func (s *Server) explainedAsked(c *gin.Context, asked *openapi.Reconcile, currency money.Currency) (x meant, err error) {
	x = meant{payer: askedID(asked.Payer), entries: asked.Entries, unplaced: asked.Unplaced}
	if asked.CardTaken.Amount != "" {
		taken, err := askedMoney("/card_taken", asked.CardTaken, currency)
		if err != nil {
			return x, err
		}
		x.taken = &taken
	}
	if x.parts, err = s.partsAsked(c, asked.Parts, currency); err != nil {
		return x, err
	}
	ways := 0
	for _, said := range []bool{len(x.parts) > 0, len(x.entries) > 0, x.taken != nil, x.unplaced} {
		if said {
			ways++
		}
	}
	if ways != 1 {
		return x, moneyRefused(document.Faults{{Code: "contradiction", At: "parts", Reason: "A line is money for jobs, shows entries, pays out card takings, or cannot be placed yet.", Remedy: "Say one of the four."}})
	}
	return x, nil
}

// undoReconciliation takes back what a reconciliation made, and opens its line.
func (s *Server) undoReconciliation(c *gin.Context) error {
	asked, err := decode[openapi.UndoReconciliation](c)
	if err != nil {
		return err
	}
	id, version, err := pathVersion(c, "reconciliation")
	if err != nil {
		return err
	}
	g, err := s.moneyGround(c)
	if err != nil {
		return err
	}
	var seen store.Receipt
	var jobs map[string]*moneyJob
	var ids []uuid.UUID
	err = s.readTx(c, func(tx store.ReadTx) error {
		r, err := tx.Reconciliation(id)
		if err != nil || r.Receipt == "" {
			return err
		}
		if seen, err = tx.Receipt(askedID(r.Receipt)); err != nil {
			return err
		}
		jobs, ids, err = placedJobs(tx, &seen)
		return err
	})
	for _, m := range jobs {
		if err == nil {
			err = m.understand()
		}
	}
	if err != nil {
		return notFoundIs(err, "reconciliation")
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		now, err := tx.Reconciliation(id)
		if err != nil {
			return reply{}, err
		}
		if now.Version != version {
			return reply{}, store.ErrStale
		}
		if now, err = tx.Unreconcile(id); err != nil {
			return reply{}, err
		}
		if err := unmake(tx, &g, &now, seen, jobs, ids, asked.Reason); err != nil {
			return reply{}, moneyRefused(err)
		}
		return reply{status: http.StatusOK, version: now.Version, body: contractReconciliation(now)}, nil
	})
}

// unmake takes back in the books what a reconciliation made.
func unmake(tx store.WriteTx, g *moneyGround, r *store.Reconciliation, seen store.Receipt, jobs map[string]*moneyJob, ids []uuid.UUID, reason string) error {
	if r.Entry > 0 {
		b, err := tx.Book(nil, r.Entry)
		if err == nil {
			_, err = b.TakeBack(r.Entry, g.today, ledger.Document{Noun: "statement line", ID: r.Line.String()})
		}
		return err
	}
	if r.Receipt == "" {
		return nil
	}
	now, err := tx.Receipt(seen.ID)
	if err != nil {
		return err
	}
	if now.Version != seen.Version {
		return store.ErrStale
	}
	b, err := tx.Book(ids, entriesOf(&now)...)
	if err != nil {
		return err
	}
	_, err = lose(tx, g, b, now, jobs, receipt.ByMistake, g.today, nil, reason)
	return err
}

// listToReconcile gives the open lines of an account with what they may be, and
// how its balance stands to the books.
func (s *Server) listToReconcile(c *gin.Context) error {
	limit, err := pageSize(c)
	if err != nil {
		return err
	}
	account, err := pathID(c, "account")
	if err != nil {
		return err
	}
	told := progressFor(c)
	question := "reconciliation of " + contractID(account)
	after := ""
	if cursor := c.Query("cursor"); cursor != "" {
		var ok bool
		if after, ok = s.readCursor(principal(c), question, cursor); !ok {
			return strayCursor()
		}
	}
	var out openapi.LinesToReconcile
	err = s.readTx(c, func(tx store.ReadTx) error {
		m, err := s.matchAccount(tx, account, told)
		if err != nil {
			return notFoundIs(err, "account")
		}
		if out.Books, err = booksProof(tx, m); err != nil {
			return err
		}
		out.Account, out.Open, out.Lines, out.Waiting = account.String(), whole(len(m.lines)), []openapi.LineToReconcile{}, []openapi.WaitingEntry{}
		for i := range m.waiting {
			if w := &m.waiting[i]; i < 100 { // more than a page of them is told by the sum
				out.Waiting = append(out.Waiting, openapi.WaitingEntry{Entry: w.Number, Day: w.Day, Amount: contractAmount(w.Amount), Kind: openapi.LedgerEntryKind(w.Kind)})
			}
		}
		for i := range m.lines {
			l := &m.lines[i]
			if len(m.found[l.ID]) > 0 && m.found[l.ID][0].Certain {
				out.Certain++
			}
			place := l.Day + " " + l.ID.String()
			switch {
			case place <= after:
			case len(out.Lines) < limit:
				out.Lines = append(out.Lines, openapi.LineToReconcile{Line: contractStatementLine(*l), Proposals: mapped(m.found[l.ID], m.contractProposal)})
			case out.Next == "":
				last := out.Lines[limit-1].Line
				out.Next = s.writeCursor(principal(c), question, last.Day+" "+last.Id)
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, out)
}

// booksProof holds what the banks say of an account of the books against it:
// closing balance, less what is open or set aside, and with what the books have
// and no bank has shown yet, is what the books say.
func booksProof(tx store.ReadTx, m *matching) (openapi.BooksProof, error) {
	accounts, err := tx.BankAccounts()
	if err != nil {
		return openapi.BooksProof{}, err
	}
	book, err := tx.BookOfAll()
	if err != nil {
		return openapi.BooksProof{}, err
	}
	c := m.account.Currency
	books := book.Balance(m.account.Holds, c)
	var closing, open, aside, waiting int64
	for i := range accounts {
		b := &accounts[i]
		if b.Holds != m.account.Holds || b.Currency != c {
			continue
		}
		open, aside = open+b.Open.Minor, aside+b.Aside.Minor
		closing += b.Sum.Minor()
		if b.Closing != nil {
			closing += b.Closing.Minor() - b.Sum.Minor()
		}
	}
	for i := range m.waiting {
		waiting += m.waiting[i].Amount.Minor()
	}
	list := []int64{closing, open, aside, waiting, closing - open - aside + waiting - books.Minor()}
	shown := make([]openapi.Money, len(list))
	for i, minor := range list {
		a, err := money.FromMinor(minor, c)
		if err != nil {
			return openapi.BooksProof{}, err
		}
		shown[i] = contractAmount(a)
	}
	return openapi.BooksProof{Holds: openapi.BankAccountHolds(m.account.Holds), Closing: shown[0], Open: shown[1], SetAside: shown[2], Waiting: shown[3], Books: contractAmount(books), Difference: shown[4]}, nil
}

// listReconciliations gives a page of them, the newest first.
func (s *Server) listReconciliations(c *gin.Context) error {
	list, next, err := newestFirst(s, c, "reconciliations", store.ReadTx.Reconciliations)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, openapi.Reconciliations{Reconciliations: mapped(list, contractReconciliation), Next: next})
}

func (s *Server) getReconciliation(c *gin.Context) error {
	r, err := theOne(s, c, "reconciliation", store.ReadTx.Reconciliation)
	if err != nil {
		return err
	}
	return answerVersion(c, http.StatusOK, r.Version, contractReconciliation(r))
}

func contractReconciliation(r store.Reconciliation) openapi.Reconciliation {
	return openapi.Reconciliation{
		Id: r.ID.String(), Version: r.Version, CreatedAt: r.CreatedAt, CreatedBy: r.CreatedBy.String(), Line: r.Line.String(), Customer: contractID(r.Customer),
		Certain: r.Certain, UndoneAt: r.UndoneAt, UndoneBy: contractID(r.UndoneBy), Receipt: r.Receipt, Entry: r.Entry, Shows: r.Shows,
	}
}
