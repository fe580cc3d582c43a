package api

import (
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/bom/document"
	"wainscot/openapi"
	"wainscot/pricing"
	"wainscot/pricing/job"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

// agreedPriceRoutes are those of jobs whose price was agreed without a quote.
func agreedPriceRoutes() []route {
	return []route{
		{http.MethodGet, "/v1/jobs/:id/agreed-price", []auth.Role{auth.Owner, auth.Sales, auth.Books}, (*Server).getAgreedPrice},
		{http.MethodPut, "/v1/jobs/:id/agreed-price", []auth.Role{auth.Owner, auth.Sales}, (*Server).setAgreedPrice},
	}
}

// getAgreedPrice gives what a job without a quote is to be paid.
func (s *Server) getAgreedPrice(c *gin.Context) error {
	id, err := pathID(c, "job")
	if err != nil {
		return err
	}
	var found *job.AgreedPrice
	var entry store.JobEntry
	err = s.readTx(c, func(tx store.ReadTx) error {
		kept, err := tx.Job(id)
		if err != nil {
			return notFoundIs(err, "job")
		}
		content, err := kept.Content()
		if err != nil {
			return err
		}
		entry = kept.JobEntry
		if asked := c.Query("number"); asked != "" {
			n, err := strconv.ParseInt(asked, 10, 64)
			if err != nil || n > content.AgreedPrice {
				return notFound("agreed price")
			}
			content.AgreedPrice = n
		}
		found, err = readAgreedPrice(tx, entry, content)
		return err
	})
	if err != nil {
		return err
	}
	if found == nil {
		return notFound("agreed price")
	}
	return answerVersion(c, http.StatusOK, entry.Version, contractAgreedPrice(found))
}

// setAgreedPrice gives a job without a quote its price, or another in its place.
func (s *Server) setAgreedPrice(c *gin.Context) error {
	asked, err := decode[openapi.AgreedPriceContent](c)
	if err != nil {
		return err
	}
	id, version, err := pathVersion(c, "job")
	if err != nil {
		return err
	}
	o, err := s.pricedOffer(c, "")
	if err != nil {
		return err
	}
	currency := money.Currency(o.workshop.Currency)
	priced, err := askedPrice(asked, currency, o)
	if err != nil {
		return err
	}
	err = s.keep(c, func(tx store.WriteTx) (reply, error) {
		m, err := s.moneyJob(tx.ReadTx, id)
		if err != nil {
			return reply{}, err
		}
		if m.Version != version {
			return reply{}, store.ErrStale
		}
		price, entry, err := agreePrice(tx, m, o.day, priced)
		if err != nil {
			return reply{}, moneyRefused(err)
		}
		return reply{status: http.StatusOK, version: entry.Version, body: contractAgreedPrice(price)}, nil
	})
	return notFoundIs(err, "job")
}

// agreePrice keeps another price of a job.
func agreePrice(tx store.WriteTx, m *moneyJob, day string, priced pricing.Priced) (*job.AgreedPrice, store.JobEntry, error) {
	var none store.JobEntry
	if m.Quote != uuid.Nil {
		return nil, none, document.Faults{{Code: "in_use", Reason: "The job is priced by its quote.", Remedy: "Send a variation for what changes."}}
	}
	if final, _ := m.final(); final != nil {
		return nil, none, document.Faults{{Code: "invoiced", Reason: "The job is invoiced.", Remedy: "Credit its invoice first, whole, where it has to be written anew."}}
	}
	now, price, faults := m.content.Agree(m.ID.String(), day, priced)
	if len(faults) == 0 {
		faults = price.HoldsOfDeposits(m.held())
	}
	if len(faults) > 0 {
		return nil, none, faults
	}
	text, err := store.PackJob(&now)
	if err != nil {
		return nil, none, err
	}
	if err := tx.AddAgreedPrice(m.ID, price); err != nil {
		return nil, none, err
	}
	entry, err := tx.ChangeJob(m.ID, m.Version, &now, text)
	return price, entry, err
}

// askedPrice works out what was asked for, at the rates of VAT of the day.
func askedPrice(asked openapi.AgreedPriceContent, c money.Currency, o offer) (pricing.Priced, error) {
	r := sentMoney{currency: c}
	basis := pricing.Basis(asked.Basis)
	if basis == "" {
		basis = pricing.Gross
	}
	lines := make([]pricing.AgreedLine, len(asked.Lines))
	for i, l := range asked.Lines {
		at := document.Join("lines", i+1)
		t := pricebook.Treatment(l.Treatment)
		percent, ok := o.book.Percent(t, o.day)
		if !ok {
			r.fault(at+"/treatment", "no_vat_rate", "There is no "+string(t)+" rate of VAT on "+o.day+".", "Add the rate to the price-book.")
		}
		quantity := max(int(l.Quantity), 1)
		lines[i] = pricing.AgreedLine{Words: l.Words, Quantity: quantity, UnitPrice: r.unit(at+"/unit_price", l.UnitPrice), Treatment: t, Percent: percent, Evidence: l.Evidence}
	}
	payments := make([]pricing.AgreedPayment, len(asked.Payments))
	for i, p := range asked.Payments {
		payments[i] = pricing.AgreedPayment{Code: p.Code, Name: p.Name, When: pricebook.PaymentWhen(p.When), Days: int(p.Days)}
		if p.Amount.Amount != "" {
			a := r.amount(document.Join("payments", i+1)+"/amount", p.Amount)
			payments[i].Amount = &a
		}
	}
	faults := r.faults.Faults()
	var priced pricing.Priced
	if len(faults) == 0 {
		priced, faults = pricing.Agree(basis, c, o.day, lines, payments)
	}
	if len(faults) > 0 {
		return priced, refused(openapi.ProblemCodeTermsRefused, "The price cannot be so.", faults, "")
	}
	priced.Edition = o.book.Edition().Code
	return priced, nil
}

// visitPrice is the price of a paid return visit as it is said when it is made:
// one sum with VAT at the standard rate, paid on handover.
func visitPrice(sum money.Amount, o offer) (pricing.Priced, document.Faults) {
	percent, ok := o.book.Percent(pricebook.Standard, o.day)
	unit, err := money.NewUnitPrice(sum.Decimal(), sum.Currency())
	if !ok || err != nil {
		return pricing.Priced{}, document.Faults{{Code: "no_vat_rate", At: "price", Reason: "There is no standard rate of VAT on " + o.day + ".", Remedy: "Add the rate to the price-book."}}
	}
	priced, faults := pricing.Agree(pricing.Gross, sum.Currency(), o.day, []pricing.AgreedLine{{Words: "Return visit", Quantity: 1, UnitPrice: unit, Treatment: pricebook.Standard, Percent: percent}}, nil)
	priced.Edition = o.book.Edition().Code
	return priced, faults
}

func contractAgreedPrice(p *job.AgreedPrice) openapi.AgreedPrice {
	return openapi.AgreedPrice{
		Job: p.Job, Number: whole(int(p.Number)), On: p.On, Basis: openapi.Basis(p.Priced.Basis),
		Lines: mapped(p.Priced.Lines, func(l pricing.Line) openapi.InvoiceLine {
			return openapi.InvoiceLine{Words: l.Words, Quantity: whole(l.Quantity), UnitPrice: contractUnitPrice(l.UnitPrice), Amount: contractAmount(l.Amount),
				Treatment: openapi.Treatment(l.Treatment), VatPercent: plain(l.Percent), Net: contractAmount(l.Net), Vat: contractAmount(l.VAT)}
		}),
		Vat: mapped(p.Priced.VAT, contractVATRow),
		Net: contractAmount(p.Priced.Totals.Net), VatTotal: contractAmount(p.Priced.Totals.VAT), Gross: contractAmount(p.Priced.Totals.Gross),
		Payments: mapped(p.Priced.Payments, contractPayment),
	}
}
