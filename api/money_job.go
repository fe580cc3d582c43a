package api

import (
	"errors"
	"fmt"
	"slices"

	"github.com/google/uuid"

	"wainscot/api/store"
	"wainscot/bom/calendar"
	"wainscot/bom/document"
	"wainscot/openapi"
	"wainscot/pricing"
	"wainscot/pricing/invoice"
	"wainscot/pricing/job"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
	"wainscot/pricing/quote"
)

// moneyJob is a job as its money sees it: what was agreed, what of that is
// invoiced, and what stands in the books.
type moneyJob struct {
	store.JobEntry
	content *job.Job
	text    *agreedText
	price   *job.AgreedPrice // of a job without a quote; nil for none
	quote   int64            // its number; 0 for none
	days    job.DueDays
	// priced is what was agreed, nil where nothing is to be paid; payments and
	// total of it are nothing once the job is cancelled.
	priced   *pricing.Priced
	payments []pricing.Payment
	total    money.Amount
	currency money.Currency
	papers   []*invoice.Invoice
	takenOn  []store.DepositTakenOn
	entries  []store.InvoiceEntry
	book     *ledger.Book
}

// readMoneyJob reads a job in a transaction; understand makes sense of it after.
func readMoneyJob(tx store.ReadTx, id uuid.UUID) (*moneyJob, error) {
	kept, err := tx.Job(id)
	if err != nil {
		return nil, err
	}
	m, err := readKeptJob(tx, kept)
	if err != nil {
		return nil, err
	}
	return m, m.look(tx)
}

// readKeptJob reads what there is of a job's money beside the books.
func readKeptJob(tx store.ReadTx, kept store.Job) (*moneyJob, error) {
	m, err := beginMoneyJob(tx, kept)
	if err != nil {
		return nil, err
	}
	if m.text, err = readAgreed(tx, m.JobEntry, m.content); err != nil {
		return m, err
	}
	if m.text == nil {
		m.price, err = readAgreedPrice(tx, m.JobEntry, m.content)
		return m, err
	}
	head, err := tx.Quote(m.Quote)
	m.quote = head.Number
	return m, err
}

// beginMoneyJob reads a job without what was agreed.
func beginMoneyJob(tx store.ReadTx, kept store.Job) (m *moneyJob, err error) {
	m = &moneyJob{JobEntry: kept.JobEntry}
	if m.content, err = kept.Content(); err != nil {
		return nil, err
	}
	w, err := tx.Workshop()
	if err != nil {
		return nil, err
	}
	m.currency = money.Currency(w.Currency)
	m.days = job.DueDays{Agreed: m.AgreedOn, Handover: m.content.HandedOverOn}
	if m.days.Today, err = today(tx.Now(), w.TimeZone); err != nil {
		return nil, err
	}
	slot, err := tx.SlotIfAny(m.ID)
	if err != nil {
		return nil, err
	}
	if slot.Version > 0 && slot.State != store.SlotReleased {
		m.days.Slot = slot.Days.From()
		if m.days.Handover == "" {
			m.days.Handover = slot.Days.Until()
		}
	}
	return m, nil
}

// look reads the papers of the job, and what stands in the books.
func (m *moneyJob) look(tx store.ReadTx) (err error) {
	if m.papers, m.entries, err = tx.InvoicesOf(m.ID); err != nil {
		return err
	}
	if m.takenOn, err = tx.DepositsTakenOn(m.ID); err != nil {
		return err
	}
	m.book, err = tx.BookOf(m.ID)
	return err
}

// understand works out what was agreed.
func (m *moneyJob) understand() error {
	m.total = money.Zero(m.currency)
	switch {
	case m.price != nil:
		m.priced = &m.price.Priced
		m.agreed(agreedMoney{0, m.priced.Currency, m.priced.Payments, m.priced.Totals.Gross})
		return nil
	case m.text == nil:
		return nil
	}
	now, err := m.text.now()
	if err != nil {
		return err
	}
	m.priced = &now.Van.Priced
	m.agreed(agreedMoney{m.quote, m.priced.Currency, now.Schedule, m.priced.Totals.Gross})
	return nil
}

// agreed takes in what the job is to be paid by.
func (m *moneyJob) agreed(a agreedMoney) {
	m.quote, m.currency, m.total = a.quote, a.currency, money.Zero(a.currency)
	if m.State != job.Cancelled {
		m.payments, m.total = a.payments, a.total
	}
}

// moneyJob reads one job and what was agreed of it.
func (s *Server) moneyJob(tx store.ReadTx, id uuid.UUID) (*moneyJob, error) {
	m, err := readMoneyJob(tx, id)
	if err != nil {
		return nil, err
	}
	return m, m.understand()
}

// final is the job's invoice that was not taken back whole; nil for none, with
// the number of the entry of the last that there was.
func (m *moneyJob) final() (standing *invoice.Invoice, lastEntry int64) {
	for i, p := range m.papers {
		if p.Kind != invoice.Final {
			continue
		}
		lastEntry = m.entries[i].Entry
		if !m.takenBack(p) {
			standing = p
		}
	}
	return standing, lastEntry
}

// takenBack says whether the credit notes of an invoice come to it.
func (m *moneyJob) takenBack(of *invoice.Invoice) bool {
	left := of.Gross.Minor()
	for _, c := range m.credits(of) {
		left -= c.Gross.Minor()
	}
	return left == 0
}

// credits are the credit notes of an invoice.
func (m *moneyJob) credits(of *invoice.Invoice) []*invoice.Invoice {
	var list []*invoice.Invoice
	for _, p := range m.papers {
		if p.TakesBack(of) {
			list = append(list, p)
		}
	}
	return list
}

// held are the job's deposits not yet earned.
func (m *moneyJob) held() money.Amount {
	return m.book.OfJob(ledger.DepositsNotEarned, m.ID.String(), m.currency)
}

// open is what is still to be paid; below nothing the customer is owed it. What
// was agreed and is not invoiced counts with what is owed on the invoice.
func (m *moneyJob) open() money.Amount {
	minor := m.total.Minor() - m.held().Minor() + m.book.OfJob(ledger.Debtors, m.ID.String(), m.currency).Minor()
	if final, _ := m.final(); final != nil {
		minor -= final.Gross.Minor()
	}
	a, err := money.FromMinor(minor, m.currency)
	if err != nil {
		return money.Zero(m.currency)
	}
	return a
}

// paid is what of the total is paid.
func (m *moneyJob) paid() money.Amount {
	paid, err := m.total.Sub(m.open())
	if err != nil {
		return money.Zero(m.currency)
	}
	return paid
}

// dues are the job's payments as they stand.
func (m *moneyJob) dues() ([]job.Due, error) {
	return job.Dues(m.payments, m.paid(), m.days)
}

// reference is what the customer pays under: that of the van in its quote.
func (m *moneyJob) reference() string {
	if reference, err := quote.Reference(m.quote, int(m.Place)); err == nil {
		return reference
	}
	return money.NewReference(fmt.Sprintf("J%06d", m.Number)) // a return visit has no quote
}

// references are all under which the job is paid: its own first, and that of the
// whole quote, which stands on the quote's paper.
func (m *moneyJob) references() []string {
	list := []string{m.reference()}
	if whole, err := quote.Reference(m.quote, 0); err == nil {
		list = append(list, whole)
	}
	return list
}

// customer is the id of who pays, as documents name them.
func (m *moneyJob) customer() string {
	if m.Customer == uuid.Nil {
		return ""
	}
	return m.Customer.String()
}

// depositIn refuses to make a slot firm that waits for a payment, where the
// workshop has it so.
func (s *Server) depositIn(tx store.WriteTx, id uuid.UUID) error {
	books, err := tx.Books()
	if err != nil || !books.SlotWaitsForDeposit {
		return err
	}
	m, err := s.moneyJob(tx.ReadTx, id)
	if err != nil {
		return err
	}
	dues, err := m.dues()
	if err != nil {
		return err
	}
	if says := waitsFor(&books, dues); says != "" {
		return &problem{code: openapi.ProblemCodeStateConflict, detail: "The slot waits for a payment: " + says,
			remedy: "Place what has come in on the job, or ask for it."}
	}
	return nil
}

// stillOwed is what the books say is still to be paid for a job; nothing where
// the workshop does not keep its books here.
func (s *Server) stillOwed(tx store.ReadTx, id uuid.UUID) (money.Amount, error) {
	books, err := tx.Books()
	if err != nil || books.Entries == 0 {
		return money.Amount{}, err
	}
	m, err := s.moneyJob(tx, id)
	if err != nil {
		return money.Amount{}, err
	}
	return m.open(), nil
}

// moneyGround is what money is entered by.
type moneyGround struct {
	today    string
	currency money.Currency
	settings store.SettingsContent
	books    store.Books
}

func readMoneyGround(tx store.ReadTx) (g moneyGround, err error) {
	w, err := tx.Workshop()
	if err != nil {
		return g, err
	}
	g.currency = money.Currency(w.Currency)
	if g.today, err = today(tx.Now(), w.TimeZone); err != nil {
		return g, err
	}
	settings, err := tx.Settings()
	if err != nil {
		return g, err
	}
	g.settings = settings.SettingsContent
	g.books, err = tx.Books()
	return g, err
}

// entryDay is the day something of a day is entered on: that day, or where the
// books are closed through it the first that is open. A closed period's VAT is
// declared, and what is found of it later goes into the next return (VAT Notice
// 700/45, for errors below its limits; from memory).
func (g *moneyGround) entryDay(day string) string {
	if day > g.books.ClosedThrough {
		return day
	}
	first, err := calendar.Add(g.books.ClosedThrough, 1)
	if err != nil || first > g.today {
		return day // which is closed, and refused as such
	}
	return first
}

// head is the head of a paper of a job.
func (g *moneyGround) head(m *moneyJob, taxPoint string) invoice.Head {
	h := invoice.Head{
		IssuedOn: g.today, TaxPoint: taxPoint, Job: m.ID.String(), Customer: m.customer(), Currency: m.currency,
		Letterhead: g.settings.Letterhead, Reference: m.reference(), Quote: m.quote,
	}
	if m.priced != nil {
		h.Basis = m.priced.Basis
	}
	return h
}

// writePaper numbers a paper and keeps it with its entry; whom it is for is kept
// as long as papers are.
func writePaper(tx store.WriteTx, i *invoice.Invoice, entry int64) (store.InvoiceEntry, error) {
	if err := happened(tx, askedID(i.Customer)); err != nil {
		return store.InvoiceEntry{}, err
	}
	if err := tx.NumberInvoice(i); err != nil {
		return store.InvoiceEntry{}, err
	}
	return tx.AddInvoice(i, entry)
}

// placeOn puts part of a receipt to a job: a deposit with its VAT and its
// invoice, or a payment of the job's invoice.
func placeOn(tx store.WriteTx, g *moneyGround, b *store.Book, r store.Receipt, m *moneyJob, part money.Amount) (store.Receipt, error) {
	day := g.entryDay(r.Day)
	now, faults := r.Content.Place(m.ID.String(), part, r.Day)
	if open := m.open(); len(faults) == 0 && part.Minor() > open.Minor() {
		faults = append(faults, document.Fault{Code: "more_than_due", At: "amount", Reason: fmt.Sprintf("%s is still to be paid for job %d.", open, m.Number),
			Remedy: "Place no more than that; what is left stays with the receipt, to be placed elsewhere or given back."})
	}
	if len(faults) > 0 {
		return r, faults
	}
	p := &now.Placements[len(now.Placements)-1]
	final, _ := m.final()
	e := ledger.Entry{Day: day, Kind: ledger.Placed, Document: ledger.Document{Noun: "receipt", ID: r.ID.String()}}
	if final != nil {
		e.Lines = ledger.Place(part, m.ID.String(), m.customer(), nil, true)
		done, err := b.Enter(e)
		if err != nil {
			return r, err
		}
		p.Entry = done.Number
		return tx.ChangeReceipt(r, now)
	}
	paper, err := invoice.NewDeposit(g.head(m, r.Day), fmt.Sprintf("Deposit on job %d", m.Number), part, invoice.Shares(m.priced))
	if err != nil {
		return r, err
	}
	e.Lines = ledger.Place(part, m.ID.String(), m.customer(), paper.Becomes, false)
	done, err := b.Enter(e)
	if err != nil {
		return r, err
	}
	if _, err := writePaper(tx, paper, done.Number); err != nil {
		return r, err
	}
	p.Entry, p.DepositInvoice = done.Number, paper.Number
	return tx.ChangeReceipt(r, now)
}

// takeBackFrom takes a placement from its job again. A deposit is reversed and
// its invoice credited; what the job's invoice has deducted, or what was paid on
// it, is owed again.
func takeBackFrom(tx store.WriteTx, g *moneyGround, b *store.Book, r store.Receipt, m *moneyJob, number int, reason string) (store.Receipt, error) {
	p, faults := r.Content.Here(number)
	if len(faults) > 0 {
		return r, faults
	}
	now, faults := r.Content.TakeBack(number, g.today)
	if len(faults) > 0 {
		return r, faults
	}
	back := now.Placements[number-1].Back
	doc := ledger.Document{Noun: "receipt", ID: r.ID.String()}
	_, lastFinal := m.final()
	if lastFinal > p.Entry && p.DepositInvoice > 0 {
		done, err := b.Enter(ledger.Entry{Day: g.today, Kind: ledger.TakenBack, Document: doc, Lines: ledger.TakeAway(p.Amount, m.ID.String(), m.customer())})
		if err != nil {
			return r, err
		}
		back.Entry = done.Number
		return tx.ChangeReceipt(r, now)
	}
	done, err := b.TakeBack(p.Entry, g.today, doc)
	if err != nil {
		return r, err
	}
	back.Entry = done.Number
	if p.DepositInvoice > 0 {
		of := m.deposit(p.DepositInvoice)
		if of == nil {
			return r, fmt.Errorf("deposit invoice %d of job %d is gone", p.DepositInvoice, m.Number)
		}
		note, faults, err := invoice.NewCreditNote(g.head(m, g.today), of, m.credits(of), of.Rows(), reason)
		if err != nil {
			return r, err
		}
		if len(faults) > 0 {
			return r, faults
		}
		if _, err := writePaper(tx, note, done.Number); err != nil {
			return r, err
		}
		back.CreditNote = note.Number
	}
	return tx.ChangeReceipt(r, now)
}

// deposit is a deposit invoice of the job, by its number.
func (m *moneyJob) deposit(number int64) *invoice.Invoice {
	for _, p := range m.papers {
		if p.Kind == invoice.Deposit && p.Number == number {
			return p
		}
	}
	return nil
}

// sinceFinal are the job's deposit invoices that no invoice has deducted yet,
// those that were taken on first, and their credit notes.
func (m *moneyJob) sinceFinal() []*invoice.Invoice {
	_, last := m.final()
	var list []*invoice.Invoice
	for i := range m.takenOn {
		if m.takenOn[i].Entry > last {
			list = append(list, m.takenOn[i].Content)
		}
	}
	for i, p := range m.papers {
		ours := slices.ContainsFunc(list, p.TakesBack)
		if p.Kind == invoice.Deposit && m.entries[i].Entry > last || ours {
			list = append(list, p)
		}
	}
	return list
}

// refundDeposits gives back a part of a job's deposits: the latest deposit
// invoices are credited first, with their VAT.
func refundDeposits(tx store.WriteTx, g *moneyGround, b *store.Book, m *moneyJob, to string, amount money.Amount, from ledger.Account, on, reason string) error {
	left := amount.Minor()
	var notes []*invoice.Invoice
	var back []ledger.VATSum
	for _, of := range slices.Backward(m.sinceFinal()) {
		if of.Kind == invoice.CreditNote || left == 0 {
			continue
		}
		earlier := m.credits(of)
		rows, gross, err := rest(of, earlier)
		if err != nil {
			return err
		}
		part := min(left, gross.Minor())
		if part == 0 {
			continue
		}
		if part < gross.Minor() {
			sum, err := gross.WithMinor(part)
			if err != nil {
				return err
			}
			if rows, err = ledger.PartOf(rows, sum); err != nil {
				return err
			}
		}
		note, faults, err := invoice.NewCreditNote(g.head(m, g.today), of, earlier, rows, reason)
		if err != nil {
			return err
		}
		if len(faults) > 0 {
			return faults
		}
		notes, back, left = append(notes, note), append(back, rows...), left-part
	}
	if left > 0 {
		return document.Faults{{Code: "more_than_there_is", At: "amount", Reason: fmt.Sprintf("%s of deposits are held for the job.", m.held()), Remedy: "Give back no more than that."}}
	}
	done, err := b.Enter(ledger.Entry{Day: on, Kind: ledger.Refunded, Document: ledger.Document{Noun: "job", ID: m.ID.String()},
		Lines: ledger.RefundDeposit(amount, m.ID.String(), to, back, from)})
	if err != nil {
		return err
	}
	for _, note := range notes {
		if _, err := writePaper(tx, note, done.Number); err != nil {
			return err
		}
	}
	return nil
}

// rest is what of an invoice was not credited, by treatment and rate, and what
// that comes to with its VAT.
func rest(of *invoice.Invoice, credits []*invoice.Invoice) ([]ledger.VATSum, money.Amount, error) {
	rows := slices.Clone(of.Rows())
	gross := money.Zero(of.Currency)
	for i := range rows {
		r := &rows[i]
		for _, c := range credits {
			for _, b := range c.Rows() {
				if b.Treatment != r.Treatment || !b.Percent.Equal(r.Percent) {
					continue
				}
				var err, err2 error
				r.Net, err = r.Net.Sub(b.Net)
				r.VAT, err2 = r.VAT.Sub(b.VAT)
				if err := errors.Join(err, err2); err != nil {
					return nil, gross, err
				}
			}
		}
		var err error
		if gross, err = money.Sum(of.Currency, gross, r.Net, r.VAT); err != nil {
			return nil, gross, err
		}
	}
	return slices.DeleteFunc(rows, func(r ledger.VATSum) bool { return r.Net.IsZero() && r.VAT.IsZero() }), gross, nil
}

// moneyRefused turns faults of money into a problem: what the state of things
// does not allow is a conflict, all else is of what was sent.
func moneyRefused(err error) error {
	faults, ok := errors.AsType[document.Faults](err)
	if !ok {
		return err
	}
	p := refusedAt("That cannot be entered so.", faults)
	if !slices.ContainsFunc(faults, func(f document.Fault) bool { return !ofMoneysState(f.Code) }) {
		p.code, p.detail, p.remedy = openapi.ProblemCodeStateConflict, "The books or the job do not allow that now.", "See in errors what stands in the way."
	}
	return p
}

func ofMoneysState(code string) bool {
	switch code {
	case "closed", "more_than_there_is", "more_than_due", "lost", "in_use", "taken_back", "reversed", "invoiced", "not_invoiced", "nothing_due", "cancelled":
		return true
	}
	return false
}
