package api

import (
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"
	"github.com/shopspring/decimal"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/openapi"
	"wainscot/pricing/job"
	"wainscot/pricing/money"
)

// returning is the van of a return visit.
type returning struct {
	customer, van uuid.UUID
	baseVan       string
	today         string
	currency      money.Currency
	release       store.ReleaseEntry
}

// createReturnVisit makes the job of a van that comes back.
func (s *Server) createReturnVisit(c *gin.Context) error {
	sent, err := decode[openapi.ReturnVisitContent](c)
	if err != nil {
		return err
	}
	if (sent.Of == "") == (sent.Van == "") {
		return brokenField("/of", "one_of_two", "The van is named either by the job it was built by or by itself.", "Give of or van, not both.")
	}
	var v returning
	if err := s.readTx(c, func(tx store.ReadTx) error { return v.find(tx, sent) }); err != nil {
		return err
	}
	release, err := s.release(c, v.release)
	if err != nil {
		return err
	}
	r, err := domainReturn(sent, v.currency)
	if err != nil {
		return err
	}
	r.Release = v.release.Number
	now, faults := job.NewReturn(job.Act{On: v.today, Today: v.today, By: principal(c).Person.String()}, r, sent.Says, v.baseVan, release.Catalogue())
	if len(faults) > 0 {
		return buildRefused(faults)
	}
	var price *job.AgreedPrice
	if r.Price != nil {
		o, err := s.pricedOffer(c, v.today)
		if err != nil {
			return err
		}
		priced, faults := visitPrice(*r.Price, o)
		if len(faults) == 0 {
			now, price, faults = now.Agree("", v.today, priced)
		}
		if len(faults) > 0 {
			return buildRefused(faults)
		}
	}
	document, err := store.PackJob(&now)
	if err != nil {
		return err
	}
	role := principal(c).Role
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		entry, err := tx.AddUnquotedJob(v.customer, v.van, store.NewJob{Content: now, Document: document})
		if err != nil {
			return reply{}, err
		}
		if err := happened(tx, entry.Customer); err != nil {
			return reply{}, err
		}
		if price != nil {
			price.Job = entry.ID.String()
			if err := tx.AddAgreedPrice(entry.ID, price); err != nil {
				return reply{}, err
			}
		}
		return reply{status: http.StatusCreated, location: "/v1/jobs/" + entry.ID.String(), body: contractReturn(&entry, &now, role)}, nil
	})
}

// find finds the van that comes back.
func (v *returning) find(tx store.ReadTx, sent openapi.ReturnVisitContent) error {
	workshop, err := tx.Workshop()
	if err != nil {
		return err
	}
	v.currency = money.Currency(workshop.Currency)
	if v.today, err = today(tx.Now(), workshop.TimeZone); err != nil {
		return err
	}
	latest, err := tx.LatestRelease()
	if err != nil {
		return err
	}
	v.release = latest.ReleaseEntry
	if sent.Of != "" {
		built, err := tx.JobEntry(askedID(sent.Of))
		if err != nil {
			return referenceIs(err, "/of", "job")
		}
		v.customer, v.van, v.baseVan = built.Customer, built.Van, built.BaseVan
		return nil
	}
	found, err := tx.VansByID([]uuid.UUID{askedID(sent.Van)})
	if err != nil {
		return err
	}
	van, ok := found[askedID(sent.Van)]
	if !ok {
		return unknownReference("/van", "van")
	}
	v.customer, v.van, v.baseVan = van.Customer, van.ID, van.Facts.BaseVan
	return nil
}

// referenceIs names what a field refers to and was not found.
func referenceIs(err error, field, what string) error {
	if notFoundIs(err, what) != err { //nolint:errorlint // it is the same one unless it was not found
		return unknownReference(field, what)
	}
	return err
}

func domainReturn(sent openapi.ReturnVisitContent, currency money.Currency) (job.Return, error) {
	r := job.Return{Of: sent.Of, Why: job.ReturnReason(sent.Why), Supplier: sent.Supplier}
	var errs []error
	number := func(field, text string) decimal.Decimal {
		d, err := decimal.NewFromString(text)
		if err != nil {
			errs = append(errs, brokenField(field, "wrong_form", "It is not a decimal number.", "Write it in digits, like 2.5."))
		}
		return d
	}
	for i, h := range sent.Hours {
		r.Hours = append(r.Hours, job.ReturnHours{Stage: h.Stage, Trade: h.Trade, Hours: number("/hours/"+strconv.Itoa(i)+"/hours", h.Hours)})
	}
	for i, p := range sent.Parts {
		r.Parts = append(r.Parts, job.ReturnPart{Stage: p.Stage, Part: p.Part, Quantity: number("/parts/"+strconv.Itoa(i)+"/quantity", p.Quantity)})
	}
	for _, o := range sent.Outside {
		r.Outside = append(r.Outside, job.ReturnOutside{Stage: o.Stage, Outside: o.Outside})
	}
	if sent.Price != (openapi.Money{}) {
		price, err := money.Parse(sent.Price.Amount, currency)
		if err != nil || sent.Price.Currency != string(currency) {
			errs = append(errs, brokenField("/price", "not_money", "It is no amount of "+string(currency)+".", "Write an amount of "+string(currency)+"."))
		}
		r.Price = &price
	}
	return r, together(errs...)
}

// getReturnVisit tells what a van came back for.
func (s *Server) getReturnVisit(c *gin.Context) error {
	whole, err := theOne(s, c, "job", store.ReadTx.WholeJob)
	if err != nil {
		return err
	}
	if whole.Content.Return == nil {
		return notFound("return visit")
	}
	return answerVersion(c, http.StatusOK, whole.Version, contractReturn(&whole.JobEntry, whole.Content, principal(c).Role))
}

func contractReturn(e *store.JobEntry, j *job.Job, role auth.Role) openapi.ReturnVisit {
	r := j.Return
	out := openapi.ReturnVisit{
		Job: e.ID.String(), Number: whole(int(e.Number)), Of: r.Of, Van: contractID(e.Van), BaseVan: e.BaseVan, AgreedOn: e.AgreedOn,
		Why: openapi.ReturnVisitWhy(r.Why), Pays: openapi.ReturnVisitPays(r.Why.Pays()), Supplier: r.Supplier, Says: j.Said(r.Says),
		Hours: mapped(r.Hours, func(h job.ReturnHours) openapi.ReturnHours {
			return openapi.ReturnHours{Stage: h.Stage, Trade: h.Trade, Hours: plain(h.Hours)}
		}),
		Parts: mapped(r.Parts, func(p job.ReturnPart) openapi.ReturnPart {
			return openapi.ReturnPart{Stage: p.Stage, Part: p.Part, Quantity: plain(p.Quantity)}
		}),
		Outside: mapped(r.Outside, func(o job.ReturnOutside) openapi.ReturnOutside {
			return openapi.ReturnOutside{Stage: o.Stage, Outside: o.Outside}
		}),
	}
	if seesPrices(role) {
		out.Price = amountIfAny(r.Price)
	}
	return out
}
