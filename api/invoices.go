package api

import (
	"bytes"
	"fmt"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"
	"github.com/shopspring/decimal"

	"wainscot/api/paper"
	"wainscot/api/store"
	"wainscot/bom/calendar"
	"wainscot/bom/document"
	"wainscot/openapi"
	"wainscot/pricing/invoice"
	"wainscot/pricing/job"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

// listInvoices gives a page of papers, the newest first.
func (s *Server) listInvoices(c *gin.Context) error {
	filter := store.InvoiceFilter{From: c.Query("from"), Until: c.Query("until"), Kind: invoice.Kind(c.Query("kind")), Job: askedID(c.Query("job")), Customer: askedID(c.Query("customer"))}
	question := fmt.Sprintf("invoices from %s until %s, %s, of %s, to %s", filter.From, filter.Until, filter.Kind, contractID(filter.Job), contractID(filter.Customer))
	list, next, err := newestFirst(s, c, question, func(tx store.ReadTx, after *store.Place, limit int) ([]store.InvoiceEntry, *store.Place, error) {
		filter.After, filter.Limit = after, limit
		return tx.Invoices(filter)
	})
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, openapi.Invoices{Invoices: mapped(list, contractInvoiceSummary), Next: next})
}

// getInvoice gives one paper.
func (s *Server) getInvoice(c *gin.Context) error {
	kept, err := theOne(s, c, "invoice", store.ReadTx.Invoice)
	if err != nil {
		return err
	}
	content, err := kept.Content()
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, contractInvoice(kept.InvoiceEntry, content))
}

// getInvoicePDF gives one paper as it is sent.
func (s *Server) getInvoicePDF(c *gin.Context) error {
	kept, err := theOne(s, c, "invoice", store.ReadTx.Invoice)
	if err != nil {
		return err
	}
	p := paper.Invoice{}
	if p.Invoice, err = kept.Content(); err != nil {
		return err
	}
	err = s.readTx(c, func(tx store.ReadTx) error {
		entry, err := tx.JobEntry(kept.Job)
		if err != nil {
			return err
		}
		plates, err := tx.JobPlates([]store.JobEntry{entry})
		if err != nil {
			return err
		}
		p.Job, p.Registration = entry.Number, plates[entry.ID]
		p.To, err = personOf(tx, kept.Customer)
		return err
	})
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := paper.InvoicePDF(&b, p); err != nil {
		return fmt.Errorf("%s %d on paper: %w", kept.Kind, kept.Number, err)
	}
	name := "invoice"
	if kept.Kind == invoice.CreditNote {
		name = "credit-note"
	}
	return sendFile(c, kindPDF, fmt.Sprintf("%s-%d.pdf", name, kept.Number), b.Bytes())
}

// afterDelivery is how many days after the handover an invoice is its tax point
// at the latest (HMRC VATTOS3600).
const afterDelivery = 14

// invoiceJob writes the invoice at the end of a job.
func (s *Server) invoiceJob(c *gin.Context) error {
	asked, err := decode[openapi.InvoiceJob](c)
	if err != nil {
		return err
	}
	g, m, err := s.moneyOfPath(c)
	if err != nil {
		return err
	}
	issued, err := g.dayAsked("/issued_on", asked.IssuedOn)
	if err != nil {
		return err
	}
	if err := m.mayBeInvoiced(); err != nil {
		return moneyRefused(err)
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		if err := m.again(tx.ReadTx); err != nil {
			return reply{}, err
		}
		if final, _ := m.final(); final != nil {
			return reply{}, moneyRefused(document.Faults{{Code: "invoiced", At: "", Reason: fmt.Sprintf("Invoice %d is of this job.", final.Number), Remedy: "Credit it first, whole, where it has to be written anew."}})
		}
		b, err := tx.Book([]uuid.UUID{m.ID})
		if err != nil {
			return reply{}, err
		}
		paper, entry, err := finalInvoice(tx, &g, b, m, issued, asked.DueOn)
		if err != nil {
			return reply{}, moneyRefused(err)
		}
		return reply{status: http.StatusCreated, location: "/v1/invoices/" + entry.ID.String(), body: contractInvoice(entry, paper)}, nil
	})
}

func (m *moneyJob) mayBeInvoiced() error {
	fault := func(code, reason, remedy string) error {
		return document.Faults{{Code: code, Reason: reason, Remedy: remedy}}
	}
	switch {
	case m.State == job.Cancelled:
		return fault("cancelled", "The job is cancelled.", "Settle what is kept and what is given back of its deposits.")
	case m.priced == nil:
		return fault("nothing_due", "Nothing was agreed to be paid for this job.", "Leave it.")
	case m.State == job.Agreed:
		return fault("not_invoiced", "The work has not begun.", "Ask for a payment; what comes in is a deposit and has an invoice of its own.")
	}
	return nil
}

// finalInvoice writes the invoice of a job and enters it.
func finalInvoice(tx store.WriteTx, g *moneyGround, b *store.Book, m *moneyJob, issued, dueOn string) (*invoice.Invoice, store.InvoiceEntry, error) {
	var none store.InvoiceEntry
	h := g.head(m, issued)
	h.IssuedOn, h.DueOn = issued, dueOn
	if on := m.content.HandedOverOn; on != "" {
		last, err := calendar.Add(on, afterDelivery)
		if err != nil {
			return nil, none, err
		}
		if issued > last {
			h.TaxPoint = on
		}
	}
	paper, err := invoice.NewFinal(h, m.priced, m.sinceFinal())
	if err != nil {
		return nil, none, err
	}
	lines, err := b.Invoice(m.ID.String(), m.customer(), paper.Rows(), m.currency)
	if err != nil {
		return nil, none, err
	}
	done, err := b.Enter(ledger.Entry{Day: g.entryDay(h.TaxPoint), Kind: ledger.Invoiced, Document: ledger.Document{Noun: "job", ID: m.ID.String()}, Lines: lines})
	if err != nil {
		return nil, none, err
	}
	entry, err := writePaper(tx, paper, done.Number)
	return paper, entry, err
}

// creditInvoice takes a job's invoice back, or sums of it.
func (s *Server) creditInvoice(c *gin.Context) error {
	asked, err := decode[openapi.CreditInvoice](c)
	if err != nil {
		return err
	}
	kept, err := theOne(s, c, "invoice", store.ReadTx.Invoice)
	if err != nil {
		return err
	}
	if kept.Kind != invoice.Final {
		return moneyRefused(document.Faults{{Code: "not_invoiced", At: "", Reason: fmt.Sprintf("It is a %s.", kept.Kind), Remedy: "Take the placement of a deposit back, or refund of it: that credits its invoice."}})
	}
	var g moneyGround
	var m *moneyJob
	err = s.readTx(c, func(tx store.ReadTx) (err error) {
		if g, err = readMoneyGround(tx); err == nil {
			m, err = readMoneyJob(tx, kept.Job)
		}
		return err
	})
	if err == nil {
		err = m.understand()
	}
	if err != nil {
		return err
	}
	of, err := kept.Content()
	if err != nil {
		return err
	}
	back, err := backAsked(asked.Back, m.currency)
	if err != nil {
		return err
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		if err := m.again(tx.ReadTx); err != nil {
			return reply{}, err
		}
		note, entry, err := creditFinal(tx, &g, m, of, back, asked.Reason)
		if err != nil {
			return reply{}, moneyRefused(err)
		}
		return reply{status: http.StatusCreated, location: "/v1/invoices/" + entry.ID.String(), body: contractInvoice(entry, note)}, nil
	})
}

// creditFinal credits a job's invoice and enters it; no rows are all that is
// left of it.
func creditFinal(tx store.WriteTx, g *moneyGround, m *moneyJob, of *invoice.Invoice, back []ledger.VATSum, reason string) (*invoice.Invoice, store.InvoiceEntry, error) {
	var none store.InvoiceEntry
	earlier := m.credits(of)
	if len(back) == 0 {
		var err error
		if back, _, err = rest(of, earlier); err != nil {
			return nil, none, err
		}
	}
	note, faults, err := invoice.NewCreditNote(g.head(m, g.today), of, earlier, back, reason)
	if err != nil {
		return nil, none, err
	}
	if len(faults) > 0 {
		return nil, none, faults
	}
	lines, err := ledger.Credit(m.ID.String(), m.customer(), note.Rows(), m.currency)
	if err != nil {
		return nil, none, err
	}
	if len(lines) == 0 {
		return nil, none, document.Faults{{Code: "more_than_there_is", At: "back", Reason: "Nothing of that invoice is left.", Remedy: "Leave it."}}
	}
	b, err := tx.Book([]uuid.UUID{m.ID})
	if err != nil {
		return nil, none, err
	}
	done, err := b.Enter(ledger.Entry{Day: g.today, Kind: ledger.Credited, Document: ledger.Document{Noun: "job", ID: m.ID.String()}, Lines: lines})
	if err != nil {
		return nil, none, err
	}
	entry, err := writePaper(tx, note, done.Number)
	return note, entry, err
}

// backAsked reads what is to be credited.
func backAsked(asked []openapi.VATSum, c money.Currency) ([]ledger.VATSum, error) {
	list := make([]ledger.VATSum, len(asked))
	for i, a := range asked {
		at := "/back/" + strconv.Itoa(i)
		list[i].Treatment = pricebook.Treatment(a.Treatment)
		var err error
		if list[i].Percent, err = decimal.NewFromString(a.VatPercent); err != nil {
			return nil, brokenField(at+"/vat_percent", "wrong_form", "It is not a decimal number.", "Write it in digits, like 20.")
		}
		if list[i].Net, err = askedMoney(at+"/net", a.Net, c); err != nil {
			return nil, err
		}
		if list[i].VAT, err = askedMoney(at+"/vat", a.Vat, c); err != nil {
			return nil, err
		}
	}
	return list, nil
}

func contractInvoice(e store.InvoiceEntry, i *invoice.Invoice) openapi.Invoice {
	s, l := contractInvoiceSummary(e), i.Letterhead
	return openapi.Invoice{
		Id: s.Id, Kind: s.Kind, Number: s.Number, Job: s.Job, Customer: s.Customer, IssuedOn: s.IssuedOn, TaxPoint: s.TaxPoint, Gross: s.Gross,
		VatTotal: s.VatTotal, Due: s.Due, Entry: s.Entry, DueOn: i.DueOn, Credits: whole(int(i.Credits)), Reason: i.Reason, Reference: i.Reference,
		Net: contractAmount(i.Net), Basis: openapi.Basis(i.Basis),
		Letterhead: openapi.Letterhead{Name: l.Name, Lines: l.Lines, Telephone: l.Telephone, Email: l.Email, Web: l.Web, CompanyNumber: l.CompanyNumber, VatNumber: l.VATNumber, Bank: l.Bank},
		Lines: mapped(i.Lines, func(l invoice.Line) openapi.InvoiceLine {
			return openapi.InvoiceLine{Words: l.Words, Quantity: whole(l.Quantity), UnitPrice: contractUnitPrice(l.UnitPrice), Amount: contractAmount(l.Amount),
				Treatment: openapi.Treatment(l.Treatment), VatPercent: plain(l.Percent), Net: contractAmount(l.Net), Vat: contractAmount(l.VAT)}
		}),
		Vat: mapped(i.VAT, contractVATRow), Deducted: mapped(i.Deducted, contractDeduction), BecomesDue: mapped(i.Becomes, contractVATSum),
	}
}
