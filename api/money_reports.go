package api

import (
	"bytes"
	"fmt"
	"io"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/api/paper"
	"wainscot/api/store"
	"wainscot/openapi"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
)

// moneyReportRoutes are those of what the bookkeeper takes along.
func moneyReportRoutes() []route {
	keepers := []auth.Role{auth.Owner, auth.Books}
	list := []route{
		{http.MethodGet, "/v1/books/deposits", keepers, (*Server).getDeposits},
		{http.MethodGet, "/v1/customers/:id/statement", keepers, (*Server).getCustomerStatement},
	}
	for _, r := range []struct {
		path  string
		table func(*Server, *gin.Context) (paper.Table, string, error)
	}{
		{"/v1/books/deposits", (*Server).depositsTable},
		{"/v1/books/journal", (*Server).journalTable},
		{"/v1/customers/:id/statement", (*Server).customerStatementTable},
		{"/v1/dues", (*Server).duesTable},
	} {
		list = append(list,
			route{http.MethodGet, r.path + ".csv", keepers, onTable(kindCSV, ".csv", paper.TableCSV, r.table)},
			route{http.MethodGet, r.path + ".xlsx", keepers, onTable(kindXLSX, ".xlsx", paper.TableXLSX, r.table)})
	}
	return list
}

// onTable sends a table as a file; the table's maker names it.
func onTable(kind, ending string, write func(io.Writer, paper.Table) error, table func(*Server, *gin.Context) (paper.Table, string, error)) func(*Server, *gin.Context) error {
	return func(s *Server, c *gin.Context) error {
		t, name, err := table(s, c)
		if err != nil {
			return err
		}
		var b bytes.Buffer
		if err := write(&b, t); err != nil {
			return fmt.Errorf("%s as a table: %w", name, err)
		}
		return sendFile(c, kind, name+ending, b.Bytes())
	}
}

// depositsOn are the deposits not yet earned at the end of a day.
type depositsOn struct {
	ground   moneyGround
	on       string
	list     []ledger.JobBalance
	jobs     map[string]store.JobEntry
	total    money.Amount
	account  money.Amount // the customers' own account on that day
	unplaced money.Amount
}

func (s *Server) depositsAsked(c *gin.Context) (d depositsOn, err error) {
	err = s.readTx(c, func(tx store.ReadTx) error {
		if d.ground, err = readMoneyGround(tx); err != nil {
			return err
		}
		if d.on, err = d.ground.dayLookedAt(c, "on"); err != nil {
			return err
		}
		if err := d.read(tx); err != nil {
			return err
		}
		d.jobs, err = jobsNamed(tx, d.list, func(b ledger.JobBalance) string { return b.Job })
		return err
	})
	return d, err
}

// read reads what was held: what stands in the books, less what was entered of
// later days.
func (d *depositsOn) read(tx store.ReadTx) error {
	c := d.ground.currency
	book, err := tx.BookOfAll()
	if err != nil {
		return err
	}
	if d.on < d.ground.today { // nothing is entered of a day to come
		later, err := tx.LedgerEntriesAfter(d.on)
		if err != nil {
			return err
		}
		book = book.Without(later)
	}
	d.list, d.total = book.DepositsNow(c)
	d.account, d.unplaced = book.Balance(ledger.ClientBank, c), book.Balance(ledger.Unplaced, c).Neg()
	return nil
}

// jobsNamed are the jobs that a list names, by id.
func jobsNamed[T any](tx store.ReadTx, list []T, id func(T) string) (map[string]store.JobEntry, error) {
	jobs := map[string]store.JobEntry{}
	for _, one := range list {
		if _, ok := jobs[id(one)]; ok {
			continue
		}
		entry, err := tx.JobEntry(askedID(id(one)))
		if err != nil {
			return nil, err
		}
		jobs[id(one)] = entry
	}
	return jobs, nil
}

// getDeposits gives the deposits not yet earned.
func (s *Server) getDeposits(c *gin.Context) error {
	d, err := s.depositsAsked(c)
	if err != nil {
		return err
	}
	out := openapi.DepositsNotEarned{
		On: d.on, Total: contractAmount(d.total), NotPlaced: contractAmount(d.unplaced),
		Deposits: mapped(d.list, func(b ledger.JobBalance) openapi.HeldDeposit {
			return openapi.HeldDeposit{Job: b.Job, Number: whole(int(d.jobs[b.Job].Number)), State: openapi.JobState(d.jobs[b.Job].State), Amount: contractAmount(b.Amount)}
		}),
	}
	if d.ground.books.CustomersMoneyApart {
		out.CustomersMoney = contractAmount(d.account)
		missing, err := d.total.Sub(d.account)
		if err != nil {
			return err
		}
		out.Missing = contractAmount(missing)
	}
	return answer(c, http.StatusOK, out)
}

func (s *Server) depositsTable(c *gin.Context) (paper.Table, string, error) {
	d, err := s.depositsAsked(c)
	t := paper.Table{
		Name: "Deposits", Title: "Deposits not yet earned", Subject: fmt.Sprintf("At the end of the day: %s in all", d.total), Day: d.on,
		Columns: []paper.Column{{Name: "job", Head: "Job", Width: 10, Number: true}, {Name: "state", Head: "State", Width: 18}, {Name: "amount", Head: "Held, with VAT", Width: 16, Number: true}},
	}
	for _, b := range d.list {
		t.Rows = append(t.Rows, []string{fmt.Sprint(d.jobs[b.Job].Number), string(d.jobs[b.Job].State), b.Amount.Fixed()})
	}
	return t, "deposits-" + d.on, err
}

// daysNamed are the days of a period that was asked for; all of them without.
func daysNamed(c *gin.Context) (from, until string) {
	return c.DefaultQuery("from", "0000-01-01"), c.DefaultQuery("until", "9999-12-31")
}

// journalTable is every line of every entry of a period, as any ledger reads it.
func (s *Server) journalTable(c *gin.Context) (paper.Table, string, error) {
	from, until := daysNamed(c)
	t := paper.Table{
		Name: "Journal", Title: "Journal of the books", Subject: "Every line of every entry",
		Columns: []paper.Column{
			{Name: "entry", Head: "Entry", Width: 8, Number: true}, {Name: "day", Head: "Day", Width: 12}, {Name: "kind", Head: "What happened", Width: 16},
			{Name: "account", Head: "Account", Width: 28}, {Name: "code", Head: "Code", Width: 12}, {Name: "debit", Head: "Debit", Width: 14, Number: true}, {Name: "credit", Head: "Credit", Width: 14, Number: true},
			{Name: "currency", Head: "Currency", Width: 10}, {Name: "job", Head: "Job", Width: 8, Number: true}, {Name: "vat_treatment", Head: "VAT", Width: 12}, {Name: "vat_percent", Head: "VAT %", Width: 8, Number: true},
			{Name: "noun", Head: "Shown by", Width: 18}, {Name: "document", Head: "Its id or number", Width: 38}, {Name: "reverses", Head: "Reverses entry", Width: 10, Number: true},
		},
	}
	err := s.readTx(c, func(tx store.ReadTx) error {
		g, err := readMoneyGround(tx)
		if err != nil {
			return err
		}
		t.Day = g.today
		entries, err := tx.LedgerEntriesBetween(from, until)
		if err != nil {
			return err
		}
		numbers := map[string]string{}
		for _, e := range entries {
			for _, l := range e.Lines {
				if l.Job != "" && numbers[l.Job] == "" {
					entry, err := tx.JobEntry(askedID(l.Job))
					if err != nil {
						return err
					}
					numbers[l.Job] = fmt.Sprint(entry.Number)
				}
				t.Rows = append(t.Rows, journalRow(&e, &l, numbers[l.Job], &g.books))
			}
		}
		return nil
	})
	return t, "journal", err
}

func journalRow(e *ledger.Entry, l *ledger.Line, job string, b *store.Books) []string {
	debit, credit, treatment, percent, reverses := l.Amount.Fixed(), "", "", "", ""
	if l.Amount.Sign() < 0 {
		debit, credit = "", l.Amount.Neg().Fixed()
	}
	if l.VAT != nil {
		treatment, percent = string(l.VAT.Treatment), plain(l.VAT.Percent)
	}
	if e.Reverses > 0 {
		reverses = strconv.FormatInt(e.Reverses, 10)
	}
	return []string{
		strconv.FormatInt(e.Number, 10), e.Day, string(e.Kind), string(l.Account), b.Code(l.Account), debit, credit, string(l.Amount.Currency()), job,
		treatment, percent, e.Document.Noun, e.Document.ID, reverses,
	}
}

// customerStatement is what happened to the money of one customer.
type customerStatement struct {
	through   string
	list      []ledger.Movement
	jobs      map[string]store.JobEntry
	balance   money.Amount
	notPlaced money.Amount
}

func (s *Server) customerStatement(c *gin.Context) (out customerStatement, err error) {
	id, err := pathID(c, "customer")
	if err != nil {
		return out, err
	}
	err = s.readTx(c, func(tx store.ReadTx) error {
		g, err := readMoneyGround(tx)
		if err != nil {
			return err
		}
		if out.through, err = g.dayLookedAt(c, "through"); err != nil {
			return err
		}
		if _, err := tx.Customer(id); err != nil {
			return notFoundIs(err, "customer")
		}
		jobs, err := tx.JobsOf(id)
		if err != nil {
			return err
		}
		out.jobs = map[string]store.JobEntry{}
		theirs := map[string]bool{}
		var ids []uuid.UUID
		for _, j := range jobs {
			out.jobs[j.ID.String()], theirs[j.ID.String()] = j, true
			ids = append(ids, j.ID)
		}
		entries, err := tx.LedgerEntriesOf(ids)
		if err != nil {
			return err
		}
		out.list = ledger.StatementOf(entries, theirs, out.through, g.currency)
		out.balance, out.notPlaced = money.Zero(g.currency), money.Zero(g.currency)
		if n := len(out.list); n > 0 {
			out.balance = out.list[n-1].Balance
		}
		return out.leftOf(tx, id)
	})
	return out, err
}

// leftOf adds up what the customer paid that is not placed.
func (s *customerStatement) leftOf(tx store.ReadTx, id uuid.UUID) error {
	receipts, err := tx.ReceiptsFrom(id)
	if err != nil {
		return err
	}
	for _, r := range receipts {
		if s.notPlaced, err = s.notPlaced.Add(r.Left); err != nil {
			return err
		}
	}
	return nil
}

// getCustomerStatement gives the money of one customer.
func (s *Server) getCustomerStatement(c *gin.Context) error {
	st, err := s.customerStatement(c)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, openapi.CustomerStatement{
		Through: st.through, Balance: contractAmount(st.balance), NotPlaced: contractAmount(st.notPlaced),
		Movements: mapped(st.list, func(m ledger.Movement) openapi.CustomerMovement {
			return openapi.CustomerMovement{Entry: m.Entry, Day: m.Day, Kind: openapi.LedgerEntryKind(m.Kind), Job: m.Job, Number: whole(int(st.jobs[m.Job].Number)),
				Change: contractAmount(m.Change), Balance: contractAmount(m.Balance)}
		}),
	})
}

func (s *Server) customerStatementTable(c *gin.Context) (paper.Table, string, error) {
	st, err := s.customerStatement(c)
	t := paper.Table{
		Name: "Statement", Title: "Statement of a customer", Subject: fmt.Sprintf("Owed %s; %s is not placed", st.balance, st.notPlaced), Day: st.through,
		Columns: []paper.Column{
			{Name: "day", Head: "Day", Width: 12}, {Name: "job", Head: "Job", Width: 8, Number: true}, {Name: "kind", Head: "What happened", Width: 18},
			{Name: "change", Head: "Change", Width: 14, Number: true}, {Name: "balance", Head: "Owed after it", Width: 14, Number: true},
		},
	}
	for _, m := range st.list {
		t.Rows = append(t.Rows, []string{m.Day, fmt.Sprint(st.jobs[m.Job].Number), string(m.Kind), m.Change.Fixed(), m.Balance.Fixed()})
	}
	return t, "statement-" + st.through, err
}

// duesTable is what is due, as a table.
func (s *Server) duesTable(c *gin.Context) (paper.Table, string, error) {
	t := paper.Table{
		Name: "Due", Title: "What is due", Subject: "Every payment that is open, the longest due first",
		Columns: []paper.Column{
			{Name: "job", Head: "Job", Width: 8, Number: true}, {Name: "payment", Head: "Payment", Width: 24}, {Name: "amount", Head: "Amount", Width: 14, Number: true},
			{Name: "paid", Head: "Paid", Width: 14, Number: true}, {Name: "open", Head: "Open", Width: 14, Number: true}, {Name: "on", Head: "Due on", Width: 12},
			{Name: "state", Head: "State", Width: 10}, {Name: "reference", Head: "Reference", Width: 26},
		},
	}
	until := c.Query("until")
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		if t.Day, err = dayOf(tx); err != nil {
			return err
		}
		list, err := s.openDues(tx, nil)
		for i := range list {
			d := &list[i]
			if until != "" && (d.On == "" || d.On > until) {
				continue
			}
			t.Rows = append(t.Rows, []string{fmt.Sprint(d.job.Number), d.Name, d.Amount.Fixed(), d.Paid.Fixed(), d.Open.Fixed(), d.On, string(d.State), d.job.reference()})
		}
		return err
	})
	return t, "due-" + t.Day, err
}
