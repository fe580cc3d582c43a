package api

import (
	"cmp"
	"fmt"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"
	"github.com/shopspring/decimal"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/bom/document"
	"wainscot/openapi"
	"wainscot/pricing/invoice"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
	"wainscot/pricing/receipt"
	"wainscot/pricing/statement"
)

// moneyRoutes are those of what is due and received, of invoices and the books.
func moneyRoutes() []route {
	var (
		owners   = []auth.Role{auth.Owner}
		keepers  = []auth.Role{auth.Owner, auth.Books}
		advisers = []auth.Role{auth.Owner, auth.Sales, auth.Books}
	)
	return []route{
		{http.MethodGet, "/v1/jobs/:id/account", advisers, (*Server).getJobAccount},
		{http.MethodGet, "/v1/jobs/:id/request.pdf", advisers, (*Server).getPaymentRequest},
		{http.MethodGet, "/v1/dues", advisers, (*Server).listDues},
		{http.MethodGet, "/v1/receipts", keepers, (*Server).listReceipts},
		{http.MethodPost, "/v1/receipts", keepers, (*Server).addReceipt},
		{http.MethodGet, "/v1/receipts/:id", keepers, (*Server).getReceipt},
		{http.MethodPost, "/v1/receipts/:id/placements", keepers, (*Server).placeReceipt},
		{http.MethodPost, "/v1/receipts/:id/placements/:number/take-back", keepers, (*Server).takeBackPlacement},
		{http.MethodPost, "/v1/receipts/:id/refunds", keepers, (*Server).refundReceipt},
		{http.MethodPost, "/v1/receipts/:id/loss", keepers, (*Server).loseReceipt},
		{http.MethodPost, "/v1/jobs/:id/refunds", keepers, (*Server).refundJob},
		{http.MethodPost, "/v1/jobs/:id/invoice", keepers, (*Server).invoiceJob},
		{http.MethodGet, "/v1/invoices", keepers, (*Server).listInvoices},
		{http.MethodGet, "/v1/invoices/:id", advisers, (*Server).getInvoice},
		{http.MethodGet, "/v1/invoices/:id/invoice.pdf", advisers, (*Server).getInvoicePDF},
		{http.MethodPost, "/v1/invoices/:id/credit-notes", keepers, (*Server).creditInvoice},
		{http.MethodGet, "/v1/books", keepers, (*Server).getBooks},
		{http.MethodPut, "/v1/books", owners, (*Server).setBooks},
		{http.MethodPost, "/v1/books/close", keepers, (*Server).closeBooks},
		{http.MethodGet, "/v1/books/entries", keepers, (*Server).listEntries},
		{http.MethodPost, "/v1/books/moves", keepers, (*Server).moveMoney},
		{http.MethodPost, "/v1/books/card-payouts", keepers, (*Server).recordCardPayout},
		{http.MethodPost, "/v1/books/entries/:number/reverse", keepers, (*Server).reverseEntry},
	}
}

// listReceipts gives a page of receipts, the newest first.
func (s *Server) listReceipts(c *gin.Context) error {
	filter := store.ReceiptFilter{From: c.Query("from"), Until: c.Query("until"), Payer: askedID(c.Query("payer")), NotPlaced: c.Query("not_placed") == "true"}
	question := fmt.Sprintf("receipts from %s until %s of %s, not placed %t", filter.From, filter.Until, contractID(filter.Payer), filter.NotPlaced)
	list, next, err := newestFirst(s, c, question, func(tx store.ReadTx, after *store.Place, limit int) ([]store.ReceiptEntry, *store.Place, error) {
		filter.After, filter.Limit = after, limit
		return tx.Receipts(filter)
	})
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, openapi.Receipts{Receipts: mapped(list, contractReceiptSummary), Next: next})
}

// getReceipt gives one receipt.
func (s *Server) getReceipt(c *gin.Context) error {
	r, err := theOne(s, c, "receipt", store.ReadTx.Receipt)
	if err != nil {
		return err
	}
	return answerVersion(c, http.StatusOK, r.Version, contractReceipt(r))
}

// part is what of a receipt is to be placed on a job.
type part struct {
	job    *moneyJob
	amount money.Amount
}

// partsAsked reads what is to be placed on which jobs.
func (s *Server) partsAsked(c *gin.Context, asked []openapi.ReceiptPart, currency money.Currency) ([]part, error) {
	list := make([]part, len(asked))
	known := map[uuid.UUID]*moneyJob{}
	for i, a := range asked {
		at := "/parts/" + strconv.Itoa(i)
		amount, err := askedMoney(at+"/amount", a.Amount, currency)
		if err != nil {
			return nil, err
		}
		id := askedID(a.Job)
		if known[id] == nil {
			err := s.readTx(c, func(tx store.ReadTx) (err error) { known[id], err = readMoneyJob(tx, id); return err })
			if err != nil {
				return nil, missingIs(err, at+"/job", "job")
			}
			if err := known[id].understand(); err != nil {
				return nil, err
			}
		}
		list[i] = part{known[id], amount}
	}
	return list, nil
}

// placeParts places parts of a receipt, in a transaction. at names the first of
// them in what was sent.
func placeParts(tx store.WriteTx, g *moneyGround, b *store.Book, r store.Receipt, parts []part, at string) (store.Receipt, error) {
	for i, p := range parts {
		if err := p.job.again(tx.ReadTx); err != nil {
			return r, err
		}
		var err error
		if r, err = placeOn(tx, g, b, r, p.job, p.amount); err != nil {
			return r, faultsUnder(err, at+strconv.Itoa(i+1)+"/")
		}
	}
	return r, nil
}

// again reads, in the transaction that writes, what of a job that was read
// before may be otherwise since; ErrStale where what was agreed may be.
func (m *moneyJob) again(tx store.ReadTx) error {
	now, err := tx.JobEntry(m.ID)
	if err != nil {
		return err
	}
	if now.Version != m.Version {
		return store.ErrStale
	}
	return m.look(tx)
}

// faultsUnder puts a path before those of faults.
func faultsUnder(err error, under string) error {
	faults, ok := err.(document.Faults) //nolint:errorlint // what is wrapped is of the books, and names no field of the part
	if !ok {
		return err
	}
	out := make(document.Faults, len(faults))
	for i, f := range faults {
		f.At = under + f.At
		out[i] = f
	}
	return out
}

// jobsOfParts are the jobs of parts, each once.
func jobsOfParts(parts []part) []uuid.UUID {
	var list []uuid.UUID
	seen := map[uuid.UUID]bool{}
	for _, p := range parts {
		if !seen[p.job.ID] {
			seen[p.job.ID] = true
			list = append(list, p.job.ID)
		}
	}
	return list
}

func (s *Server) moneyGround(c *gin.Context) (g moneyGround, err error) {
	err = s.readTx(c, func(tx store.ReadTx) (err error) { g, err = readMoneyGround(tx); return err })
	return g, err
}

// addReceipt enters money that came in, and places it.
func (s *Server) addReceipt(c *gin.Context) error {
	asked, err := decode[openapi.NewReceipt](c)
	if err != nil {
		return err
	}
	g, err := s.moneyGround(c)
	if err != nil {
		return err
	}
	r := receipt.Receipt{Day: asked.Day, Into: ledger.Account(asked.Into), Payer: asked.Payer}
	if r.Amount, err = askedMoney("/amount", asked.Amount, g.currency); err != nil {
		return err
	}
	if asked.Foreign.Amount.Amount != "" {
		if r.Foreign, err = askedForeign(asked.Foreign, g.currency); err != nil {
			return err
		}
	}
	parts, err := s.partsAsked(c, asked.Parts, g.currency)
	if err != nil {
		return err
	}
	content, faults := receipt.New(r, g.today)
	if len(faults) > 0 {
		return moneyRefused(faults)
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		if content.Payer != "" {
			if _, err := tx.Customer(askedID(content.Payer)); err != nil {
				return reply{}, missingIs(err, "/payer", "customer")
			}
		}
		b, err := tx.Book(jobsOfParts(parts))
		if err != nil {
			return reply{}, err
		}
		made, err := tx.AddReceipt(b, content, content.Day, asked.Words)
		if err == nil {
			made, err = placeParts(tx, &g, b, made, parts, "parts/")
		}
		if err != nil {
			return reply{}, moneyRefused(err)
		}
		return reply{status: http.StatusCreated, location: "/v1/receipts/" + made.ID.String(), version: made.Version, body: contractReceipt(made)}, nil
	})
}

// askedForeign reads what was paid in another currency.
func askedForeign(asked openapi.ForeignSum, ours money.Currency) (*statement.Foreign, error) {
	a, err := money.Parse(asked.Amount.Amount, money.Currency(asked.Amount.Currency))
	if err != nil || a.Currency() == ours || a.Sign() <= 0 {
		return nil, moneyRefused(document.Faults{{Code: "not_money", At: "foreign/amount", Reason: "It is no sum in another currency.", Remedy: "Write more than nothing, in a currency that is not " + string(ours) + "."}})
	}
	if asked.Rate != "" {
		if d, err := decimal.NewFromString(asked.Rate); err != nil || d.Sign() <= 0 {
			return nil, moneyRefused(document.Faults{{Code: "rate", At: "foreign/rate", Reason: "It is no rate.", Remedy: "Write it in digits, above nothing."}})
		}
	}
	return &statement.Foreign{Amount: a, Rate: asked.Rate}, nil
}

// missingIs makes what a field names and is not there that field's fault.
func missingIs(err error, field, what string) error {
	if p := storeProblem(err); p != nil && p.code == openapi.ProblemCodeNotFound {
		return unknownReference(field, what)
	}
	return err
}

// receiptStep does something to the receipt of the address, at the version that
// was seen.
func (s *Server) receiptStep(c *gin.Context, jobs []uuid.UUID, step func(tx store.WriteTx, b *store.Book, r store.Receipt) (store.Receipt, error), reverses ...int64) error {
	id, version, err := pathVersion(c, "receipt")
	if err != nil {
		return err
	}
	err = s.keep(c, func(tx store.WriteTx) (reply, error) {
		r, err := tx.Receipt(id)
		if err != nil {
			return reply{}, err
		}
		if r.Version != version {
			return reply{}, store.ErrStale
		}
		b, err := tx.Book(jobs, reverses...)
		if err == nil {
			r, err = step(tx, b, r)
		}
		if err != nil {
			return reply{}, moneyRefused(err)
		}
		return reply{status: http.StatusOK, version: r.Version, body: contractReceipt(r)}, nil
	})
	return notFoundIs(err, "receipt")
}

// placeReceipt places a receipt on jobs.
func (s *Server) placeReceipt(c *gin.Context) error {
	asked, err := decode[openapi.PlaceReceipt](c)
	if err != nil {
		return err
	}
	if _, _, _, err := s.seenReceipt(c); err != nil {
		return err
	}
	g, err := s.moneyGround(c)
	if err != nil {
		return err
	}
	parts, err := s.partsAsked(c, asked.Parts, g.currency)
	if err != nil {
		return err
	}
	return s.receiptStep(c, jobsOfParts(parts), func(tx store.WriteTx, b *store.Book, r store.Receipt) (store.Receipt, error) {
		return placeParts(tx, &g, b, r, parts, "parts/")
	})
}

// seenReceipt reads the receipt of the address before it is written, at the
// version that was seen, and the jobs it is placed on.
func (s *Server) seenReceipt(c *gin.Context) (r store.Receipt, jobs map[string]*moneyJob, ids []uuid.UUID, err error) {
	id, version, err := pathVersion(c, "receipt")
	if err != nil {
		return r, nil, nil, err
	}
	jobs = map[string]*moneyJob{}
	err = s.readTx(c, func(tx store.ReadTx) (err error) {
		if r, err = tx.Receipt(id); err != nil {
			return notFoundIs(err, "receipt")
		}
		if r.Version != version {
			return store.ErrStale
		}
		jobs, ids, err = placedJobs(tx, &r)
		return err
	})
	if err != nil {
		return r, nil, nil, err
	}
	for _, m := range jobs {
		if err := m.understand(); err != nil {
			return r, nil, nil, err
		}
	}
	return r, jobs, ids, nil
}

// placedJobs are the jobs that a receipt is placed on now.
func placedJobs(tx store.ReadTx, r *store.Receipt) (map[string]*moneyJob, []uuid.UUID, error) {
	jobs := map[string]*moneyJob{}
	var ids []uuid.UUID
	for _, p := range r.Content.Placements {
		if p.Back != nil || jobs[p.Job] != nil {
			continue
		}
		m, err := readMoneyJob(tx, askedID(p.Job))
		if err != nil {
			return nil, nil, err
		}
		jobs[p.Job], ids = m, append(ids, m.ID)
	}
	return jobs, ids, nil
}

// takeBackPlacement takes a placement from its job again.
func (s *Server) takeBackPlacement(c *gin.Context) error {
	asked, err := decode[openapi.TakeBackPlacement](c)
	if err != nil {
		return err
	}
	number, err := pathOrdinal(c, "placement")
	if err != nil {
		return err
	}
	g, err := s.moneyGround(c)
	if err != nil {
		return err
	}
	seen, jobs, ids, err := s.seenReceipt(c)
	if err != nil {
		return err
	}
	p, faults := seen.Content.Here(int(number))
	if len(faults) > 0 {
		if faults[0].Code == "no_placement" {
			return notFound("placement")
		}
		return moneyRefused(faults)
	}
	return s.receiptStep(c, ids, func(tx store.WriteTx, b *store.Book, r store.Receipt) (store.Receipt, error) {
		return takeBack(tx, &g, b, r, jobs, []int{int(number)}, asked.Reason)
	}, p.Entry)
}

// takeBack takes placements of a receipt from their jobs again.
func takeBack(tx store.WriteTx, g *moneyGround, b *store.Book, r store.Receipt, jobs map[string]*moneyJob, numbers []int, reason string) (store.Receipt, error) {
	for _, number := range numbers {
		p, faults := r.Content.Here(number)
		if len(faults) > 0 {
			return r, faults
		}
		m := jobs[p.Job]
		if m == nil {
			return r, store.ErrStale
		}
		err := m.again(tx.ReadTx)
		if err == nil {
			r, err = takeBackFrom(tx, g, b, r, m, number, reason)
		}
		if err != nil {
			return r, err
		}
	}
	return r, nil
}

// refundReceipt gives back what is not placed.
func (s *Server) refundReceipt(c *gin.Context) error {
	asked, err := decode[openapi.RefundReceipt](c)
	if err != nil {
		return err
	}
	g, err := s.moneyGround(c)
	if err != nil {
		return err
	}
	amount, err := askedMoney("/amount", asked.Amount, g.currency)
	if err != nil {
		return err
	}
	on, err := g.dayAsked("/on", asked.On)
	if err != nil {
		return err
	}
	return s.receiptStep(c, nil, func(tx store.WriteTx, b *store.Book, r store.Receipt) (store.Receipt, error) {
		return giveBack(tx, b, r, amount, ledger.Account(asked.From), on)
	})
}

// giveBack gives back a part of a receipt that is not placed.
func giveBack(tx store.WriteTx, b *store.Book, r store.Receipt, amount money.Amount, from ledger.Account, on string) (store.Receipt, error) {
	now, faults := r.Content.GiveBack(amount, from, on)
	if len(faults) > 0 {
		return r, faults
	}
	done, err := b.Enter(ledger.Entry{Day: on, Kind: ledger.Refunded, Document: ledger.Document{Noun: "receipt", ID: r.ID.String()},
		Lines: ledger.Return(amount, from, r.Content.Payer)})
	if err != nil {
		return r, err
	}
	now.Refunds[len(now.Refunds)-1].Entry = done.Number
	return tx.ChangeReceipt(r, now)
}

// dayAsked is a day that was named, not after today; "" is today.
func (g *moneyGround) dayAsked(field, day string) (string, error) {
	if day == "" {
		return g.today, nil
	}
	if day > g.today {
		return "", moneyRefused(document.Faults{{Code: "day", At: field[1:], Reason: "That day is still to come.", Remedy: "Enter it when it has happened."}})
	}
	return day, nil
}

// dayLookedAt is the day of the query on which something stood, not after today;
// left out it is today.
func (g *moneyGround) dayLookedAt(c *gin.Context, name string) (string, error) {
	day := c.Query(name)
	if day > g.today {
		return "", brokenField("query/"+name, "day", "That day is still to come, and nobody knows what stands then.", "Ask for today, or for a day before.")
	}
	return cmp.Or(day, g.today), nil
}

// loseReceipt records that the money went again.
func (s *Server) loseReceipt(c *gin.Context) error {
	asked, err := decode[openapi.LoseReceipt](c)
	if err != nil {
		return err
	}
	g, err := s.moneyGround(c)
	if err != nil {
		return err
	}
	var fee *money.Amount
	if asked.Fee.Amount != "" {
		a, err := askedMoney("/fee", asked.Fee, g.currency)
		if err != nil {
			return err
		}
		fee = &a
	}
	on, err := g.dayAsked("/on", asked.On)
	if err != nil {
		return err
	}
	seen, jobs, ids, err := s.seenReceipt(c)
	if err != nil {
		return err
	}
	return s.receiptStep(c, ids, func(tx store.WriteTx, b *store.Book, r store.Receipt) (store.Receipt, error) {
		return lose(tx, &g, b, r, jobs, receipt.How(asked.How), on, fee, asked.Reason)
	}, entriesOf(&seen)...)
}

// entriesOf are the entries that losing a receipt may reverse.
func entriesOf(r *store.Receipt) []int64 {
	list := []int64{r.Content.Entry}
	for _, p := range r.Content.Placements {
		if p.Back == nil {
			list = append(list, p.Entry)
		}
	}
	return list
}

// lose takes every placement of a receipt back, and the receipt itself.
func lose(tx store.WriteTx, g *moneyGround, b *store.Book, r store.Receipt, jobs map[string]*moneyJob, how receipt.How, on string, fee *money.Amount, reason string) (store.Receipt, error) {
	var numbers []int
	for _, p := range r.Content.Placements {
		if p.Back == nil {
			numbers = append(numbers, p.Number)
		}
	}
	r, err := takeBack(tx, g, b, r, jobs, numbers, reason)
	if err != nil {
		return r, err
	}
	now, faults := r.Content.Lose(how, on, fee)
	if len(faults) > 0 {
		return r, faults
	}
	doc := ledger.Document{Noun: "receipt", ID: r.ID.String()}
	done, err := b.TakeBack(r.Content.Entry, on, doc)
	if err != nil {
		return r, err
	}
	now.Lost.Entry = done.Number
	if r.Into == ledger.TakenIn {
		if err := tx.SendStockVanBack(r.ID, on, done.Number); err != nil {
			return r, err
		}
	}
	if fee != nil {
		from := ledger.Bank
		if r.Content.Into == ledger.Card { // the company takes it off the next payout
			from = ledger.Card
		}
		charged, err := b.Enter(ledger.Entry{Day: on, Kind: ledger.Charged, Document: doc, Lines: ledger.Fee(*fee, from)})
		if err != nil {
			return r, err
		}
		now.Lost.FeeEntry = charged.Number
	}
	return tx.ChangeReceipt(r, now)
}

// refundJob gives back of a job's money.
func (s *Server) refundJob(c *gin.Context) error {
	asked, err := decode[openapi.RefundJob](c)
	if err != nil {
		return err
	}
	g, m, err := s.moneyOfPath(c)
	if err != nil {
		return err
	}
	amount, err := askedMoney("/amount", asked.Amount, g.currency)
	if err != nil {
		return err
	}
	on, err := g.dayAsked("/on", asked.On)
	if err != nil {
		return err
	}
	if amount.Sign() <= 0 {
		return moneyRefused(document.Faults{{Code: "amount", At: "amount", Reason: "It is nothing, or less.", Remedy: "Give what is paid back."}})
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		err := m.again(tx.ReadTx)
		if err != nil {
			return reply{}, err
		}
		b, err := tx.Book([]uuid.UUID{m.ID})
		if err != nil {
			return reply{}, err
		}
		if !m.held().IsZero() {
			err = refundDeposits(tx, &g, b, m, m.customer(), amount, ledger.Account(asked.From), on, asked.Reason)
		} else {
			err = payBack(b, m, amount, ledger.Account(asked.From), on)
		}
		if err != nil {
			return reply{}, moneyRefused(err)
		}
		return s.accountReply(tx, m)
	})
}

// payBack gives a customer what the invoice and its credits leave them owed.
func payBack(b *store.Book, m *moneyJob, amount money.Amount, from ledger.Account, on string) error {
	owed := -m.book.OfJob(ledger.Debtors, m.ID.String(), m.currency).Minor()
	if amount.Minor() > owed {
		is, err := amount.WithMinor(max(owed, 0))
		if err != nil {
			return err
		}
		return document.Faults{{Code: "more_than_there_is", At: "amount", Reason: fmt.Sprintf("The customer is owed %s.", is), Remedy: "Give back no more; credit the invoice first where more is to be taken back."}}
	}
	_, err := b.Enter(ledger.Entry{Day: on, Kind: ledger.Refunded, Document: ledger.Document{Noun: "job", ID: m.ID.String()},
		Lines: ledger.PayBack(amount, m.ID.String(), m.customer(), from)})
	return err
}

// moneyOfPath reads the job of the address as its money sees it.
func (s *Server) moneyOfPath(c *gin.Context) (g moneyGround, m *moneyJob, err error) {
	id, err := pathID(c, "job")
	if err != nil {
		return g, nil, err
	}
	err = s.readTx(c, func(tx store.ReadTx) (err error) {
		if g, err = readMoneyGround(tx); err != nil {
			return err
		}
		if m, err = readMoneyJob(tx, id); err != nil {
			return notFoundIs(err, "job")
		}
		return nil
	})
	if err == nil {
		err = m.understand()
	}
	return g, m, err
}

// contractReceiptSummary is a receipt in a list.
func contractReceiptSummary(e store.ReceiptEntry) openapi.ReceiptSummary {
	return openapi.ReceiptSummary{
		Id: e.ID.String(), Number: whole(int(e.Number)), Version: e.Version, CreatedAt: e.CreatedAt, ChangedAt: e.ChangedAt, Day: e.Day,
		Into: openapi.LedgerAccount(e.Into), Amount: contractAmount(e.Amount), Left: contractAmount(e.Left), Payer: contractID(e.Payer), Line: e.Line, Words: e.Words,
	}
}

func contractReceipt(r store.Receipt) openapi.Receipt {
	e, c := contractReceiptSummary(r.ReceiptEntry), r.Content
	out := openapi.Receipt{
		Id: e.Id, Number: e.Number, Version: e.Version, CreatedAt: e.CreatedAt, ChangedAt: e.ChangedAt, Day: e.Day, Into: e.Into, Amount: e.Amount,
		Left: e.Left, Payer: e.Payer, Line: e.Line, Words: e.Words, Entry: c.Entry,
		Placements: mapped(c.Placements, func(p receipt.Placement) openapi.Placement {
			one := openapi.Placement{Number: whole(p.Number), Job: p.Job, Amount: contractAmount(p.Amount), On: p.On, Entry: p.Entry, DepositInvoice: whole(int(p.DepositInvoice))}
			if p.Back != nil {
				one.Back = openapi.PlacementBack{On: p.Back.On, Entry: p.Back.Entry, CreditNote: whole(int(p.Back.CreditNote))}
			}
			return one
		}),
		Refunds: mapped(c.Refunds, func(f receipt.Refund) openapi.ReceiptRefund {
			return openapi.ReceiptRefund{Amount: contractAmount(f.Amount), From: openapi.LedgerAccount(f.From), On: f.On, Entry: f.Entry, Line: f.Line}
		}),
	}
	if c.Foreign != nil {
		out.Foreign = openapi.ForeignSum{Amount: contractAmount(c.Foreign.Amount), Rate: c.Foreign.Rate}
	}
	if c.Lost != nil {
		out.Lost = openapi.LostReceipt{How: openapi.ReceiptLoss(c.Lost.How), On: c.Lost.On, Entry: c.Lost.Entry, Fee: amountIfAny(c.Lost.Fee)}
	}
	return out
}

// placedOnJob are what of receipts is, or was, placed on a job.
func placedOnJob(list []store.Receipt, id uuid.UUID) []openapi.PlacedReceipt {
	out := []openapi.PlacedReceipt{}
	for _, r := range list {
		for _, p := range r.Content.Placements {
			if p.Job != id.String() {
				continue
			}
			out = append(out, openapi.PlacedReceipt{Receipt: r.ID.String(), Number: whole(int(r.Number)), Day: r.Day, Into: openapi.LedgerAccount(r.Into),
				Amount: contractAmount(p.Amount), Placement: whole(p.Number), TakenBack: p.Back != nil || r.Content.Lost != nil})
		}
	}
	return out
}

// contractVATSum is VAT of one treatment at one rate.
func contractVATSum(v ledger.VATSum) openapi.VATSum {
	return openapi.VATSum{Treatment: openapi.Treatment(v.Treatment), VatPercent: plain(v.Percent), Net: contractAmount(v.Net), Vat: contractAmount(v.VAT)}
}

// contractInvoiceSummary is a paper in a list.
func contractInvoiceSummary(e store.InvoiceEntry) openapi.InvoiceSummary {
	return openapi.InvoiceSummary{
		Id: e.ID.String(), Kind: openapi.InvoiceKind(e.Kind), Number: whole(int(e.Number)), Job: e.Job.String(), Customer: contractID(e.Customer),
		IssuedOn: e.IssuedOn, TaxPoint: e.TaxPoint, Gross: contractAmount(e.Gross), VatTotal: contractAmount(e.VAT), Due: contractAmount(e.Due), Entry: e.Entry,
	}
}

// deductions are the papers that an invoice deducts.
func contractDeduction(d invoice.Deduction) openapi.DeductedInvoice {
	return openapi.DeductedInvoice{Kind: openapi.InvoiceKind(d.Kind), Number: whole(int(d.Number)), TaxPoint: d.TaxPoint, Gross: contractAmount(d.Gross), Vat: mapped(d.VAT, contractVATSum)}
}
