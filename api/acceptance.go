package api

import (
	"encoding/base64"
	"errors"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/bom/document"
	"wainscot/openapi"
	"wainscot/pricing/quote"
)

// offered is what a customer may say yes to, and what that depends on.
type offered struct {
	head     store.QuoteEntry
	revision store.Revision
	document *quote.Document
	settings store.Settings
	kind     quote.CustomerKind
	today    string
}

// readOffered reads what is offered of a quote; a problem when nothing is.
func (s *Server) readOffered(c *gin.Context, id uuid.UUID) (*offered, error) {
	var o offered
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		if o.head, err = tx.Quote(id); err != nil {
			return notFoundIs(err, "quote")
		}
		if o.revision, err = tx.Offered(id); err != nil {
			if errors.Is(err, store.ErrNotFound) {
				return nothingOffered()
			}
			return err
		}
		return o.surroundings(tx)
	})
	if err != nil {
		return nil, err
	}
	text, err := o.revision.Document.Unpack()
	if err == nil {
		o.document, err = quote.Decode(text)
	}
	return &o, err
}

// surroundings are what a yes depends on beside what is offered.
func (o *offered) surroundings(tx store.ReadTx) (err error) {
	if o.today, err = dayOf(tx); err != nil {
		return err
	}
	if o.settings, err = tx.Settings(); err != nil {
		return err
	}
	o.kind, err = kindOf(tx, o.head.Customer)
	return err
}

// kindOf is how somebody buys; nobody is private.
func kindOf(tx store.ReadTx, customer uuid.UUID) (quote.CustomerKind, error) {
	if customer == uuid.Nil {
		return quote.Private, nil
	}
	found, err := tx.Customer(customer)
	return found.Kind, err
}

// cancellation is the right to cancel a sale of what is offered.
func (o *offered) cancellation(place quote.Place, on string, request, only bool) quote.Cancellation {
	return quote.CancellationRight(o.settings.CancellationRights, quote.Sale{
		Country: o.settings.Country, Kind: o.kind, Place: place, On: on, Offered: only, ExpressRequest: request,
	})
}

// yes is an acceptance worked out: what is agreed, and how it is kept.
type yes struct {
	agreed *quote.Document
	keep   store.Acceptance
	// frozen is what is agreed with extras; nil without.
	frozen *store.Frozen
	// jobs begin with it, one a van.
	jobs []store.NewJob
}

// accept works out what a yes comes to, before the transaction.
func (s *Server) accept(c *gin.Context, o *offered, a quote.Acceptance, by string) (*yes, error) {
	a.Revision, a.At = o.document.Revision, s.now()
	var offer quote.Offer
	var err error
	if len(a.Ticked) > 0 {
		if offer, err = s.offerOf(c, o.document); err != nil {
			return nil, err
		}
	}
	agreed, faults, err := quote.Accept(offer, o.document, a, o.kind)
	var unready *quote.Unready
	switch {
	case errors.As(err, &unready):
		return nil, extrasUnready(unready)
	case err != nil:
		return nil, engineProblem(err)
	case len(faults) > 0:
		return nil, acceptanceRefused(faults)
	}
	right := o.cancellation(a.Place, a.On, a.ExpressRequest != "", false)
	y := &yes{agreed: agreed, keep: store.Acceptance{
		Offered: o.revision.Number, How: string(a.How), On: a.On, Place: string(a.Place), TermsSHA256: a.TermsSHA256,
		By: by, Request: a.ExpressRequest,
		Cancellation: store.Cancellation{Applies: right.Applies, LastDay: right.LastDay, EarlyWork: right.WorkBeforeLastDay, Cites: right.Cites, Says: right.Says},
	}}
	for _, t := range a.Ticked {
		y.keep.Extras = append(y.keep.Extras, store.TickedExtra{Van: t.Van, Feature: t.Feature})
	}
	if y.jobs, err = s.jobsOf(c, agreed, a.On); err != nil || agreed == o.document {
		return y, err
	}
	worked := store.Worked{
		Release: agreed.Release.Number, Edition: agreed.Edition.Code, TotalMinor: agreed.Totals.Gross.Minor(),
		Currency: string(agreed.Totals.Gross.Currency()), Hours: hoursOf(agreed.Vans),
	}
	if agreed.Held != nil {
		worked.HeldEdition = agreed.Held.Code
	}
	frozen, err := freeze(agreed, worked)
	if err != nil {
		return nil, err
	}
	text, err := agreed.Asked.Encode()
	frozen.Asked = store.Pack(text)
	y.frozen = &frozen
	return y, err
}

// extrasUnready: what is ticked together cannot be built.
func extrasUnready(u *quote.Unready) *problem {
	p := &problem{code: openapi.ProblemCodeNotReady, detail: "With these extras together it cannot be built.", remedy: "Take fewer of them."}
	for i, list := range u.Vans {
		for _, n := range list {
			p.errors = append(p.errors, openapi.FieldError{Field: "/extras", Code: string(n.Code),
				Reason: "Van " + strconv.Itoa(i+1) + ": " + n.Says, Remedy: "Take fewer of them."})
		}
	}
	return p
}

// acceptanceRefused: an offer that has come to its end is a conflict, all else
// a fault of what was sent.
func acceptanceRefused(faults document.Faults) *problem {
	p := refusedAt("The acceptance does not go with what is offered.", faults)
	for _, f := range faults {
		if f.Code == "lapsed" {
			p.code, p.detail, p.remedy = openapi.ProblemCodeStateConflict, f.Reason, "Revise the quote and issue it anew."
			p.errors = nil
		}
	}
	return p
}

// acceptQuote keeps the customer's yes, given at the counter or on paper.
func (s *Server) acceptQuote(c *gin.Context) error {
	id, version, err := pathVersion(c, "quote")
	if err != nil {
		return err
	}
	sent, err := decode[openapi.AcceptanceContent](c)
	if err != nil {
		return err
	}
	evidence, err := domainEvidence(sent.Evidence)
	if err != nil {
		return err
	}
	o, err := s.readOffered(c, id)
	if err != nil {
		return err
	}
	if o.head.Version != version {
		return store.ErrStale
	}
	on := sent.On
	if on == "" {
		on = o.today
	}
	if on > o.today {
		return refusedAt("The acceptance does not go with what is offered.", document.Faults{{
			Code: "too_late", At: "on", Reason: "That day has not come.", Remedy: "Give the day of the customer's yes.",
		}})
	}
	y, err := s.accept(c, o, quote.Acceptance{
		On: on, How: quote.How(sent.How), Place: quote.Place(sent.Place), TermsSHA256: sent.TermsSha256,
		Ticked: domainTicks(sent.Extras), ExpressRequest: sent.ExpressRequest,
	}, sent.By)
	if err != nil {
		return err
	}
	y.keep.Evidence = evidence
	role := principal(c).Role
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		head, kept, err := tx.AcceptQuote(id, version, y.keep, y.frozen)
		if err != nil {
			return reply{}, err
		}
		if _, err := tx.AddJobs(head, kept.Revision, y.jobs); err != nil {
			return reply{}, err
		}
		if err := keepCustomers(tx, head, kept.On, o.settings.KeepYears); err != nil {
			return reply{}, err
		}
		kept.Evidence = withoutContent(kept.Evidence) // it is not kept a second time
		return reply{
			status: http.StatusCreated, location: "/v1/quotes/" + id.String() + "/acceptance", version: head.Version,
			body: contractAcceptance(&head, &kept, y.agreed, role),
		}, nil
	})
}

// keepCustomers: who has bought is kept as long as the books must be.
func keepCustomers(tx store.WriteTx, head store.QuoteEntry, on string, years int) error {
	day, err := time.Parse(time.DateOnly, on)
	if err != nil {
		return err
	}
	until := day.AddDate(years, 0, 0).Format(time.DateOnly)
	for _, id := range []uuid.UUID{head.Customer, head.EndCustomer} {
		if id == uuid.Nil {
			continue
		}
		if err := tx.KeepCustomer(id, until); err != nil {
			return err
		}
	}
	return nil
}

// getAcceptance gives how a quote was accepted, with its evidence.
func (s *Server) getAcceptance(c *gin.Context) error {
	id, err := pathID(c, "quote")
	if err != nil {
		return err
	}
	var head store.QuoteEntry
	var kept store.Acceptance
	var revision store.Revision
	err = s.readTx(c, func(tx store.ReadTx) (err error) {
		if head, err = tx.Quote(id); err != nil {
			return err
		}
		if kept, err = tx.Acceptance(id); err != nil {
			return err
		}
		revision, err = tx.Revision(id, kept.Revision)
		return err
	})
	if err != nil {
		return notFoundIs(err, "quote that has been accepted")
	}
	text, err := revision.Document.Unpack()
	if err != nil {
		return err
	}
	d, err := quote.Decode(text)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, contractAcceptance(&head, &kept, d, principal(c).Role))
}

func contractAcceptance(head *store.QuoteEntry, a *store.Acceptance, d *quote.Document, r auth.Role) openapi.Acceptance {
	out := openapi.Acceptance{
		Quote: head.ID.String(), Number: whole(int(head.Number)), Revision: whole(int(a.Revision)), OfferedRevision: whole(int(a.Offered)),
		By: a.By, How: openapi.AcceptanceHow(a.How), On: a.On, At: a.At, RecordedBy: a.RecordedBy.String(), Place: openapi.SalePlace(a.Place),
		QuoteTerms: d.Paper.Terms, TermsSha256: a.TermsSHA256, ExpressRequest: a.Request,
		Extras: mapped(a.Extras, func(t store.TickedExtra) openapi.Tick {
			return openapi.Tick{Van: whole(t.Van), Feature: t.Feature}
		}),
		Cancellation: openapi.Cancellation{
			Applies: a.Cancellation.Applies, LastDay: a.Cancellation.LastDay, WorkBeforeLastDay: a.Cancellation.EarlyWork,
			Cites: a.Cancellation.Cites, Says: a.Cancellation.Says,
		},
		Evidence: mapped(a.Evidence, contractEvidence),
		Totals:   contractQuoteTotals(d, r), Payments: mapped(d.Payments, contractPayment), Reference: d.Paper.Reference,
	}
	for i := range d.Vans {
		if reference, err := quote.Reference(head.Number, i+1); err == nil {
			out.JobReferences = append(out.JobReferences, reference)
		}
	}
	return out
}

func contractEvidence(e store.Evidence) openapi.Evidence {
	return openapi.Evidence{
		Says: e.Says, MediaType: openapi.EvidenceMediaType(e.MediaType), Sha256: e.SHA256,
		Content: base64.StdEncoding.EncodeToString(e.Content),
	}
}

func domainTicks(list []openapi.Tick) []quote.Tick {
	var ticks []quote.Tick
	for _, t := range list {
		ticks = append(ticks, quote.Tick{Van: int(t.Van), Feature: t.Feature})
	}
	return ticks
}

// domainEvidence reads what shows that a quote was accepted. A hash that is
// given must be the content's.
func domainEvidence(list []openapi.Evidence) ([]store.Evidence, error) {
	var all []store.Evidence
	for i, e := range list {
		at := "/evidence/" + strconv.Itoa(i)
		content, err := base64.StdEncoding.DecodeString(e.Content)
		if err != nil {
			return nil, brokenField(at+"/content", "wrong_form", "It is not base64.", "Send the bytes in base64, with padding.")
		}
		made := store.EvidenceOf(e.Says, string(e.MediaType), content)
		switch {
		case len(content) > 0 && e.MediaType == "":
			return nil, brokenField(at+"/media_type", "missing", "Nothing says what the content is.", "Name its media type.")
		case len(content) == 0 && e.Sha256 != "":
			made.SHA256 = e.Sha256 // of a paper that is filed elsewhere
		case e.Sha256 != "" && e.Sha256 != made.SHA256:
			return nil, brokenField(at+"/sha256", "contradiction", "The hash is not of this content.", "Leave it out, or send the content it is of.")
		}
		all = append(all, made)
	}
	return all, nil
}

func withoutContent(list []store.Evidence) []store.Evidence {
	out := slices.Clone(list)
	for i := range out {
		out[i].Content = nil
	}
	return out
}

// refusedAt makes a problem of faults whose fields are named from 1.
func refusedAt(detail string, faults document.Faults) *problem {
	p := &problem{code: openapi.ProblemCodeTermsRefused, detail: detail, remedy: "Mend the fields named in errors."}
	for _, f := range faults {
		p.errors = append(p.errors, openapi.FieldError{Field: fieldOf(strings.TrimSpace(f.At)), Code: f.Code, Reason: f.Reason, Remedy: f.Remedy})
	}
	return p
}
