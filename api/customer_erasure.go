package api

import (
	"errors"
	"fmt"
	"log/slog"
	"math"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/openapi"
	"wainscot/pricing/job"
)

// What is kept about a customer can be handed to them, and, when it need not
// be kept any longer, erased.

// fullName is a customer's name as people say it.
func fullName(e store.CustomerEntry) string { return strings.TrimSpace(e.GivenNames + " " + e.Name) }

// exportCustomer gives everything that is kept about a customer. Quotes are
// given as lists have them: of what is frozen in them nothing is about the
// person.
func (s *Server) exportCustomer(c *gin.Context) error {
	id, err := pathID(c, "customer")
	if err != nil {
		return err
	}
	var export openapi.CustomerExport
	err = s.readTx(c, func(tx store.ReadTx) (err error) {
		export, err = customerExport(tx, id, principal(c).Role)
		return err
	})
	if err != nil {
		return customerProblem(err)
	}
	return answer(c, http.StatusOK, export)
}

func customerExport(tx store.ReadTx, id uuid.UUID, role auth.Role) (openapi.CustomerExport, error) {
	x := openapi.CustomerExport{
		Vans: []openapi.KeptVan{}, Enquiries: []openapi.Enquiry{}, Quotes: []openapi.QuoteSummary{},
		Reservations: []openapi.Reservation{}, Acceptances: []openapi.Acceptance{}, Jobs: []openapi.ExportedJob{},
	}
	found, err := tx.Customer(id)
	if err != nil {
		return x, err
	}
	vans, err := every(func(after *store.Place) ([]store.Van, *store.Place, error) {
		return tx.Vans(store.VanFilter{Customer: id, After: after, Limit: everyPage})
	})
	if err != nil {
		return x, err
	}
	ids := make([]uuid.UUID, len(vans))
	for i, v := range vans {
		ids[i] = v.ID
		x.Vans = append(x.Vans, contractKeptVan(v))
	}
	x.Customer = contractCustomer(found, ids)
	enquiries, err := every(func(after *store.Place) ([]store.Enquiry, *store.Place, error) {
		return tx.Enquiries(store.EnquiryFilter{Customer: id, After: after, Limit: everyPage})
	})
	if err != nil {
		return x, err
	}
	for _, e := range enquiries {
		x.Enquiries = append(x.Enquiries, contractEnquiry(e))
	}
	reservations, err := every(func(after *store.Place) ([]store.Reservation, *store.Place, error) {
		return tx.Reservations(store.ReservationFilter{Customer: id, After: after, Limit: everyPage})
	})
	if err != nil {
		return x, err
	}
	for _, r := range reservations {
		told, err := contractReservation(r)
		if err != nil {
			return x, err
		}
		x.Reservations = append(x.Reservations, told)
	}
	return x, exportQuotes(tx, &x, id, role)
}

// exportQuotes adds the quotes and what was said when they were accepted.
func exportQuotes(tx store.ReadTx, x *openapi.CustomerExport, id uuid.UUID, role auth.Role) error {
	day, err := dayOf(tx)
	if err != nil {
		return err
	}
	quotes, err := every(func(after *store.Place) ([]store.QuoteEntry, *store.Place, error) {
		return tx.Quotes(store.QuoteFilter{Customer: id, After: after, Limit: everyPage})
	})
	if err != nil {
		return err
	}
	for i := range quotes {
		names, err := tx.CustomerEntries([]uuid.UUID{quotes[i].Customer})
		if err != nil {
			return err
		}
		x.Quotes = append(x.Quotes, contractQuoteSummary(&quotes[i], day, fullName(names[quotes[i].Customer]), role))
		accepted, err := tx.Acceptance(quotes[i].ID)
		if errors.Is(err, store.ErrNotFound) {
			continue
		}
		if err != nil {
			return err
		}
		x.Acceptances = append(x.Acceptances, exportedAcceptance(&quotes[i], accepted))
	}
	ids := make([]uuid.UUID, len(quotes))
	for i := range quotes {
		ids[i] = quotes[i].ID
	}
	if err := exportJobs(tx, x, id, ids); err != nil {
		return err
	}
	return exportMoney(tx, x, id)
}

// exportMoney adds what the person paid and was given back, what the bank and
// the workshop wrote about it, their invoices, and vans they sold or bought. What
// their van was sold for to somebody else is not theirs to know.
func exportMoney(tx store.ReadTx, x *openapi.CustomerExport, id uuid.UUID) error {
	jobs := make([]uuid.UUID, len(x.Jobs))
	m := openapi.ExportedMoney{Settlements: []openapi.ExportedSettlement{}, Vans: []openapi.ExportedStockVan{}}
	for i := range x.Jobs {
		jobs[i] = askedID(x.Jobs[i].Job)
		done, ok, err := tx.SettlementIfAny(jobs[i])
		if err != nil {
			return err
		}
		if ok {
			m.Settlements = append(m.Settlements, openapi.ExportedSettlement{Job: x.Jobs[i].Job, DecidedOn: done.DecidedOn, Kept: contractAmount(done.Content.Kept), Reason: done.Words})
		}
	}
	receipts, err := tx.ReceiptsOf(id, jobs)
	if err != nil {
		return err
	}
	lines, err := tx.LinesOf(id, jobs)
	if err != nil {
		return err
	}
	papers, err := every(func(after *store.Place) ([]store.InvoiceEntry, *store.Place, error) {
		return tx.Invoices(store.InvoiceFilter{Customer: id, After: after, Limit: everyPage})
	})
	if err != nil {
		return err
	}
	vans, err := tx.StockVansOf(id)
	if err != nil {
		return err
	}
	for i := range vans {
		m.Vans = append(m.Vans, exportedStockVans(&vans[i], id)...)
	}
	m.Receipts = mapped(receipts[:min(len(receipts), mostOfAll)], contractReceiptSummary)
	m.Lines = mapped(lines[:min(len(lines), mostOfAll)], contractStatementLine)
	m.Invoices = mapped(papers, contractInvoiceSummary)
	x.Money = m
	return nil
}

// exportedStockVans are the sides of a van of the stock book that somebody has
// to do with.
func exportedStockVans(v *store.StockVan, id uuid.UUID) (list []openapi.ExportedStockVan) {
	if v.From == id.String() {
		list = append(list, openapi.ExportedStockVan{Number: whole(int(v.Number)), Van: v.Van.Van, How: openapi.ExportedStockVanHow(v.How), On: v.BoughtOn, Amount: contractAmount(v.Paid)})
	}
	if s := v.Sale; s != nil && s.To == id.String() {
		list = append(list, openapi.ExportedStockVan{Number: whole(int(v.Number)), Van: v.Van.Van, How: openapi.ExportedStockVanHowSold, On: s.On, Amount: contractAmount(s.Price)})
	}
	return list
}

// exportJobs adds what people wrote about the jobs, and which attachments they
// have: their content is had one by one.
func exportJobs(tx store.ReadTx, x *openapi.CustomerExport, id uuid.UUID, quotes []uuid.UUID) error {
	list, err := tx.JobsOfCustomer(id, quotes)
	if err != nil {
		return err
	}
	for _, e := range list[:min(len(list), mostOfAll)] {
		w, err := tx.WholeJob(e.ID)
		if err != nil {
			return err
		}
		variations, err := exportedVariations(tx, e.ID)
		if err != nil {
			return err
		}
		x.Jobs = append(x.Jobs, openapi.ExportedJob{
			Job: e.ID.String(), Number: whole(int(e.Number)), Written: append([]string{}, w.Content.Words...), Variations: variations,
			Attachments: mapped(w.Content.Attachments, func(a job.Attachment) openapi.JobAttachment { return contractAttachment(w.Content, a) }),
		})
	}
	return nil
}

// exportedVariations tell how the changes of a job were answered, by whom, and
// what shows it.
func exportedVariations(tx store.ReadTx, ofJob uuid.UUID) ([]openapi.ExportedVariation, error) {
	entries, err := tx.Variations(ofJob)
	if err != nil {
		return nil, err
	}
	list := []openapi.ExportedVariation{}
	for _, e := range entries {
		v, err := tx.Variation(ofJob, e.Number)
		if err != nil {
			return nil, err
		}
		list = append(list, openapi.ExportedVariation{
			Number: whole(int(v.Number)), State: openapi.VariationState(v.State), SentOn: v.SentOn, DecidedOn: v.DecidedOn,
			How: openapi.ExportedVariationHow(v.How), By: v.By, Evidence: mapped(v.Evidence, contractEvidence),
		})
	}
	return list, nil
}

// exportedAcceptance is an acceptance with what is personal in it.
func exportedAcceptance(q *store.QuoteEntry, a store.Acceptance) openapi.Acceptance {
	told := openapi.Acceptance{
		Quote: q.ID.String(), Number: whole(int(q.Number)), Revision: whole(int(a.Revision)), OfferedRevision: whole(int(a.Offered)),
		By: a.By, How: openapi.AcceptanceHow(a.How), On: a.On, At: a.At, RecordedBy: contractID(a.RecordedBy),
		Place: openapi.SalePlace(a.Place), TermsSha256: a.TermsSHA256, ExpressRequest: a.Request,
		Extras: []openapi.Tick{}, Evidence: mapped(a.Evidence, contractEvidence),
		Cancellation: openapi.Cancellation{
			Applies: a.Cancellation.Applies, LastDay: a.Cancellation.LastDay, WorkBeforeLastDay: a.Cancellation.EarlyWork,
			Cites: a.Cancellation.Cites, Says: a.Cancellation.Says,
		},
	}
	for _, e := range a.Extras {
		told.Extras = append(told.Extras, openapi.Tick{Van: whole(e.Van), Feature: e.Feature})
	}
	return told
}

// everyPage is the largest page the store gives.
const everyPage = 200

// mostOfAll is how many things of a kind an export holds at most, as the
// contract has it.
const mostOfAll = 10_000

// every goes through all pages of a list.
func every[T, P any](page func(after *P) ([]T, *P, error)) ([]T, error) {
	var all []T
	var after *P
	for {
		list, next, err := page(after)
		if err != nil {
			return nil, err
		}
		if all = append(all, list...); next == nil || len(all) >= mostOfAll {
			return all[:min(len(all), mostOfAll)], nil
		}
		after = next
	}
}

// eraseCustomer empties everything personal about a customer.
func (s *Server) eraseCustomer(c *gin.Context) error {
	id, version, err := pathVersion(c, "customer")
	if err != nil {
		return err
	}
	err = s.keep(c, func(tx store.WriteTx) (reply, error) {
		settings, err := mayBeErased(tx, id)
		if err != nil {
			return reply{}, err
		}
		done, err := tx.EraseCustomer(id, version, settings.EnquirySources)
		if err != nil {
			return reply{}, err
		}
		if err := forgetAnswers(tx, done); err != nil {
			return reply{}, err
		}
		now := done.Customer
		return reply{status: http.StatusOK, version: now.Version, body: contractCustomer(now, done.Vans)}, nil
	})
	if err != nil {
		return customerProblem(err)
	}
	// The rows are empty and that is on the disk; what they held is swept out
	// of the files now. If it cannot be, the next erasure does it.
	if err := s.store.Sweep(c.Request.Context()); err != nil {
		s.log.ErrorContext(c, "what was erased is still in unused parts of the database file; erase again or restart, see docs/operating.md",
			slog.String("request_id", requestID(c)), slog.Any("error", err))
	}
	return nil
}

// mayBeErased says what stands in the way.
func mayBeErased(tx store.WriteTx, id uuid.UUID) (store.Settings, error) {
	settings, err := tx.Settings()
	if err != nil {
		return settings, err
	}
	day, err := dayOf(tx.ReadTx)
	if err != nil {
		return settings, err
	}
	if _, err := tx.StandingCustomer(id); err != nil {
		return settings, err
	}
	found, err := tx.ErasureInTheWay(id, day, settings.SettingsContent)
	if err != nil || len(found) == 0 {
		return settings, err
	}
	p := &problem{
		code:   openapi.ProblemCodeStateConflict,
		detail: "The customer cannot be erased yet.",
		remedy: "Bring to an end what errors name, and wait until the days they name are over.",
	}
	for _, w := range found {
		p.errors = append(p.errors, inTheWay(w))
	}
	return settings, p
}

func inTheWay(w store.InTheWay) openapi.FieldError {
	switch {
	case w.Noun == "customer":
		return openapi.FieldError{
			Field: "keep_until", Code: "kept", Reason: "The customer is kept until " + w.Until + ".",
			Remedy: "Erase after that day; where nothing must be kept so long, change keep_until.",
		}
	case w.Noun == "enquiry":
		return openapi.FieldError{Field: "enquiries/" + w.ID.String(), Code: "open", Reason: "An enquiry of theirs is open.", Remedy: "Close it."}
	case w.Noun == "receipt":
		return openapi.FieldError{
			Field: "receipts/" + w.ID.String(), Code: "not_placed", Reason: fmt.Sprintf("Of receipt %d something is neither placed on a job nor given back.", w.Number),
			Remedy: "Place it, or give it back.",
		}
	case w.Noun == "reservation":
		return openapi.FieldError{
			Field: "reservations/" + w.ID.String(), Code: "held", Reason: fmt.Sprintf("Reservation %d holds a place.", w.Number), Remedy: "Release it, or have it taken up.",
		}
	case w.State == string(store.Draft):
		return openapi.FieldError{
			Field: "quotes/" + w.ID.String(), Code: w.State,
			Reason: fmt.Sprintf("Quote %d is a draft that somebody worked on; it counts as business until %s.", w.Number, w.Until), Remedy: "Erase after that day.",
		}
	case w.State == string(store.Accepted):
		return openapi.FieldError{
			Field: "quotes/" + w.ID.String(), Code: w.State,
			Reason: fmt.Sprintf("Quote %d was accepted; what belongs to it is kept until %s.", w.Number, w.Until), Remedy: "Erase after that day.",
		}
	}
	return openapi.FieldError{
		Field: "quotes/" + w.ID.String(), Code: w.State,
		Reason: fmt.Sprintf("Quote %d is offered until %s.", w.Number, w.Until), Remedy: "Decline it, or erase after that day.",
	}
}

// forgetAnswers takes away the answers kept about what was emptied, and all
// that are kept no longer than they need be.
func forgetAnswers(tx store.WriteTx, done store.Erased) error {
	about := []string{"/v1/customers/" + done.Customer.ID.String()}
	for collection, ids := range map[string][]uuid.UUID{
		"/v1/vans/": done.Vans, "/v1/enquiries/": done.Enquiries, "/v1/reservations/": done.Reservations, "/v1/quotes/": done.Quotes,
		"/v1/jobs/": done.Jobs, "/v1/receipts/": done.Receipts, "/v1/statement-lines/": done.Lines,
	} {
		for _, id := range ids {
			about = append(about, collection+id.String())
		}
	}
	for _, address := range about {
		if err := tx.ForgetAnswers(address); err != nil {
			return err
		}
	}
	return tx.ClearAnswers(tx.Now().Add(-answersKeptFor), math.MaxInt32)
}
