package api

import (
	"errors"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"
	"github.com/shopspring/decimal"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/bom"
	"wainscot/bom/calendar"
	"wainscot/bom/document"
	"wainscot/openapi"
	"wainscot/pricing"
	"wainscot/pricing/job"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
	"wainscot/pricing/quote"
)

func proposalOf(v *store.Variation) (*job.Proposal, error) {
	text, err := v.Document.Unpack()
	if err != nil {
		return nil, err
	}
	return job.DecodeProposal(text)
}

// vary works a proposal out as of today, and what it does to the days of the
// van. Where its parts are is looked up only where it drops any: it takes as long
// as all the rest.
func (s *Server) vary(c *gin.Context, a *agreedJob, p job.Proposal, number int64) (*job.Varied, error) {
	returns := p.Parts
	p.Parts = nil
	v, err := s.varyKnowing(c, a, p, number)
	if err != nil {
		return nil, err
	}
	if drops(&v.Difference) {
		if p.Parts, err = s.partsOf(c, a, returns); err != nil {
			return nil, err
		}
		if len(p.Parts) > 0 {
			if v, err = s.varyKnowing(c, a, p, number); err != nil {
				return nil, err
			}
		}
	}
	if a.shed, err = s.shedding(c, a, &v.Variation); err != nil {
		return nil, err
	}
	right := a.cancellation(quote.AtDistance, v.Day, false, true)
	v.Cancellation = &right
	return v, s.proposeSlot(c, a, v)
}

// varyKnowing is vary with where the parts are.
func (s *Server) varyKnowing(c *gin.Context, a *agreedJob, p job.Proposal, number int64) (*job.Varied, error) {
	in := job.Varying{Job: a.whole.ID.String(), Number: number, Agreed: a.Agreement, Findings: a.whole.Content.Findings, Stages: a.whole.Content.Progress()}
	in.Offer = quote.Offer{Number: a.Release.Number, Release: a.release, Days: a.ground.working}
	var err error
	if in.Offer.Book, err = s.edition(c, a.release, a.ground.edition); err != nil {
		return nil, err
	}
	held := &quote.Document{Vans: []quote.Van{a.Van}}
	held.Edition.Code = a.Van.Priced.Edition
	if in.Offer.HeldBooks, err = s.heldBooks(c, a.release, held); err != nil {
		return nil, err
	}
	p.Day = a.ground.today
	p.ValidUntil = max(p.ValidUntil, p.Day)
	v, faults, err := job.Vary(in, p)
	if err != nil {
		return nil, engineProblem(err)
	}
	if len(faults) > 0 {
		return nil, proposalRefused(faults)
	}
	return &v, nil
}

// proposalRefused makes a problem of faults of a proposal, with the contract's
// names for its fields.
func proposalRefused(faults document.Faults) error {
	ofTerms := true
	for i := range faults {
		rest, ok := strings.CutPrefix(faults[i].At, "terms/")
		faults[i].At, ofTerms = rest, ofTerms && ok
	}
	if ofTerms {
		return refused(openapi.ProblemCodeTermsRefused, "The discount is not for this price-book.", faults, "")
	}
	return refused(openapi.ProblemCodeChoicesRefused, "What is proposed is not of this job or its catalogue.", faults, "")
}

// fits refuses choices of which some had to be put aside.
func fits(v *job.Varied) error {
	list, err := putAside(&v.Worked)
	if err != nil || len(list) == 0 {
		return err
	}
	for i := range list {
		list[i].Field = strings.TrimPrefix(list[i].Field, "/vans/0")
	}
	return &problem{
		code:   openapi.ProblemCodeChoicesRefused,
		detail: "Some choices do not fit with those before them.",
		remedy: "Leave out one side of each conflict; /v1/conflicts tells each of them whole, /v1/ways-out what to change.",
		errors: list,
	}
}

// proposal is what was sent in the domain's types. before is what the draft
// proposed until now, nil for none: the foreman's yes to what is the same stays,
// and the cost that an owner gave it.
func (a *agreedJob) proposal(sent openapi.VariationContent, r auth.Role, before *job.Proposal) (job.Proposal, error) {
	p := job.Proposal{Choices: domainChoices(sent.Choices), ValidUntil: sent.ValidUntil, Role: string(r), Rule: a.ground.settings.Rework}
	p.Choices.Answers = a.answers(before)
	if err := a.discount(&p, sent); err != nil {
		return p, err
	}
	if p.ValidUntil == "" {
		until, err := calendar.Add(a.ground.today, a.ground.settings.ValidDays)
		if err != nil {
			return p, err
		}
		p.ValidUntil = until
	} else if p.ValidUntil < a.ground.today {
		return p, brokenTerms("/valid_until", "too_early", "That day is over.", "Name today or a later day.")
	}
	if sent.Rule != nil {
		p.Rule = domainRework(*sent.Rule)
	}
	for _, n := range sent.Findings {
		p.Findings = append(p.Findings, int(n))
	}
	currency := a.Van.Priced.Currency
	var errs []error
	for i, addition := range sent.Additions {
		work, price, err := domainAddition(addition, currency)
		if err != nil {
			errs = append(errs, under(err, "/additions/"+strconv.Itoa(i)))
			continue
		}
		approved, cost := a.before(work, before)
		work.Approved = approved
		if price.Cost == nil && !r.SeesCost() {
			price.Cost = cost
		}
		p.Choices.Additions, p.Additions = append(p.Choices.Additions, work), append(p.Additions, price)
	}
	for i, f := range sent.FindingPrices {
		price, err := money.Parse(f.Price.Amount, currency)
		if err != nil || f.Price.Currency != string(currency) {
			errs = append(errs, brokenField("/finding_prices/"+strconv.Itoa(i)+"/price", "not_money", "It is no amount of "+string(currency)+".", "Write an amount of "+string(currency)+"."))
			continue
		}
		p.Additions = append(p.Additions, pricing.AdditionPrice{Code: job.FindingCode(int(f.Finding)), Price: price.Decimal(), Treatment: pricebook.Standard})
	}
	for i, w := range sent.Returns {
		quantity, err := decimalAt("/returns/"+strconv.Itoa(i)+"/quantity", w.Quantity)
		errs = append(errs, err)
		p.Parts = append(p.Parts, job.PartProgress{Part: w.Part, CanGoBack: quantity})
	}
	return p, together(errs...)
}

// answers are those to checks that hold for a draft: its own, and of what is
// agreed those it does not answer anew.
func (a *agreedJob) answers(draft *job.Proposal) []bom.CheckAnswer {
	agreed := a.Asked.Vans[0].Choices.Answers
	if draft == nil {
		return agreed
	}
	list := slices.Clone(draft.Choices.Answers)
	for _, was := range agreed {
		if !slices.ContainsFunc(list, func(n bom.CheckAnswer) bool { return n.Check == was.Check }) {
			list = append(list, was)
		}
	}
	return list
}

// discount is another one than was agreed, where one is asked for. How far it
// may go is the role's, as with a quote.
func (a *agreedJob) discount(p *job.Proposal, sent openapi.VariationContent) error {
	if sent.DiscountPercent == "" && sent.DiscountAmount == (openapi.Money{}) {
		return nil
	}
	asked := openapi.Terms{DiscountPercent: sent.DiscountPercent, DiscountAmount: sent.DiscountAmount}
	t, err := domainTerms(asked, "", a.Van.Priced.Currency, "")
	if err != nil {
		return withoutTerms(err)
	}
	p.Discount = &job.Discount{Percent: t.DiscountPercent, Amount: t.DiscountAmount}
	return nil
}

// withoutTerms names the fields of terms as they stand in a variation.
func withoutTerms(err error) error {
	p, ok := errors.AsType[*problem](err)
	if !ok {
		return err
	}
	moved := *p
	moved.errors = slices.Clone(p.errors)
	for i := range moved.errors {
		moved.errors[i].Field = strings.Replace(moved.errors[i].Field, "/terms/", "/", 1)
	}
	return &moved
}

// before is what was said of an addition that is as it was, in the draft or in
// what is agreed.
func (a *agreedJob) before(d bom.Addition, draft *job.Proposal) (approved bool, cost *decimal.Decimal) {
	lists := []struct {
		works  []bom.Addition
		prices []pricing.AdditionPrice
	}{{a.Asked.Vans[0].Choices.Additions, a.Asked.Vans[0].Additions}}
	if draft != nil {
		lists = append(lists, struct {
			works  []bom.Addition
			prices []pricing.AdditionPrice
		}{draft.Choices.Additions, draft.Additions})
	}
	for _, l := range lists {
		for _, was := range l.works {
			yes := was.Approved
			if was.Approved = false; was.Code != d.Code || !sameText(was, d) {
				continue
			}
			approved = approved || yes
			if k := slices.IndexFunc(l.prices, func(p pricing.AdditionPrice) bool { return p.Code == d.Code }); k >= 0 {
				cost = l.prices[k].Cost
			}
		}
	}
	return approved, cost
}

func brokenTerms(field, code, reason, remedy string) *problem {
	return &problem{code: openapi.ProblemCodeTermsRefused, detail: reason, remedy: remedy,
		errors: []openapi.FieldError{{Field: field, Code: code, Reason: reason, Remedy: remedy}}}
}

// kept is how a variation is kept: a proposal while it is a draft.
func keptVariation(v *job.Varied, document store.Packed) store.VariationContent {
	return store.VariationContent{
		ValidUntil: v.ValidUntil, ChangeMinor: v.Change.Gross.Minor(), TotalMinor: v.Is.Gross.Minor(),
		Currency: string(v.Is.Gross.Currency()), Document: document,
	}
}

// createVariation works a proposal out and keeps it as a draft.
func (s *Server) createVariation(c *gin.Context) error {
	id, version, err := pathVersion(c, "job")
	if err != nil {
		return err
	}
	return s.draftVariation(c, id, version, 0)
}

// changeVariation puts another proposal in the place of a draft's.
func (s *Server) changeVariation(c *gin.Context) error {
	id, version, err := pathVersion(c, "job")
	if err != nil {
		return err
	}
	number, err := pathOrdinal(c, "variation")
	if err != nil {
		return err
	}
	return s.draftVariation(c, id, version, number)
}

// draftVariation keeps what was sent as the draft of that number; 0 is a new
// one.
func (s *Server) draftVariation(c *gin.Context, id uuid.UUID, version, number int64) error {
	sent, err := decode[openapi.VariationContent](c)
	if err != nil {
		return err
	}
	a, err := s.agreedJob(c, id, version)
	if err != nil {
		return err
	}
	var before *job.Proposal
	if number > 0 {
		kept, err := s.variation(c, id, number)
		if err != nil {
			return err
		}
		if kept.State != job.VariationDraft {
			return store.ErrState
		}
		if before, err = proposalOf(kept); err != nil {
			return err
		}
	}
	p, err := a.proposal(sent, principal(c).Role, before)
	if err != nil {
		return err
	}
	n := number
	if n == 0 {
		if n, err = s.nextVariation(c, id); err != nil {
			return err
		}
	}
	v, err := s.vary(c, a, p, n)
	if err == nil {
		err = fits(v)
	}
	if err != nil {
		return err
	}
	return s.keepProposal(c, a, v, &p, number)
}

func (s *Server) nextVariation(c *gin.Context, id uuid.UUID) (next int64, err error) {
	err = s.readTx(c, func(tx store.ReadTx) error {
		list, err := tx.Variations(id)
		next = int64(len(list)) + 1
		return err
	})
	if err == nil && next > maxVariations {
		err = &problem{code: openapi.ProblemCodeStateConflict, detail: "The job has as many variations as a job may have.", remedy: "Put more into one of them."}
	}
	return next, err
}

// maxVariations is the contract's bound, of one job.
const maxVariations = 1000

func (s *Server) keepProposal(c *gin.Context, a *agreedJob, v *job.Varied, p *job.Proposal, number int64) error {
	text, err := p.Encode()
	if err != nil {
		return err
	}
	content := keptVariation(v, store.Pack(text))
	return s.keepVariation(c, a, a.whole.Content, v, func(tx store.WriteTx) (kept store.Variation, err error) {
		if number == 0 {
			kept.VariationEntry, err = tx.AddVariation(a.whole.ID, content)
		} else {
			kept.VariationEntry, err = tx.ChangeVariation(a.whole.ID, number, content)
		}
		return kept, err
	})
}

// keepVariation writes a variation, and what its job has become with it.
func (s *Server) keepVariation(c *gin.Context, a *agreedJob, now *job.Job, v *job.Varied, write func(store.WriteTx) (store.Variation, error)) error {
	packed, err := store.PackJob(now)
	if err != nil {
		return err
	}
	role := principal(c).Role
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		entry, err := tx.ChangeWholeJob(a.whole, now, packed)
		if err != nil {
			return reply{}, err
		}
		kept, err := write(tx)
		if err != nil {
			return reply{}, err
		}
		left, err := surplusOf(tx.ReadTx, a.shed, &kept)
		if err != nil {
			return reply{}, err
		}
		r := reply{status: http.StatusOK, version: entry.Version, about: "/v1/jobs/" + entry.ID.String(), body: contractVariation(entry.Version, &kept, v, now.GivenTo(kept.Number), left, role)}
		if kept.State == job.VariationDraft && kept.CreatedAt.Equal(kept.ChangedAt) && c.Request.Method == http.MethodPost && c.Param("number") == "" {
			r.status, r.location = http.StatusCreated, "/v1/jobs/"+entry.ID.String()+"/variations/"+strconv.FormatInt(kept.Number, 10)
		}
		return r, nil
	})
}

// variation reads one variation of a job.
func (s *Server) variation(c *gin.Context, id uuid.UUID, number int64) (*store.Variation, error) {
	var kept store.Variation
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		kept, err = tx.Variation(id, number)
		return err
	})
	return &kept, notFoundIs(err, "variation")
}

// readVariation reads the variation the address names, with its job. As it was
// sent, or, a draft, as of now.
func (s *Server) readVariation(c *gin.Context, version int64) (*agreedJob, *store.Variation, error) {
	id, err := pathID(c, "job")
	if err != nil {
		return nil, nil, err
	}
	number, err := pathOrdinal(c, "variation")
	if err != nil {
		return nil, nil, err
	}
	a, err := s.agreedJob(c, id, version)
	if err != nil {
		return nil, nil, err
	}
	kept, err := s.variation(c, id, number)
	return a, kept, err
}

// shownVariation is what a variation comes to: frozen, or a draft as of now.
func (s *Server) shownVariation(c *gin.Context, a *agreedJob, kept *store.Variation) (*job.Varied, error) {
	if kept.SentOn != "" {
		v, err := frozenVariation(kept)
		if err != nil {
			return nil, err
		}
		if kept.State == job.VariationSent && a.whole.Content.Variation == v.From.Variation {
			a.shed, err = s.shedding(c, a, v)
		}
		return &job.Varied{Variation: *v}, err
	}
	p, err := proposalOf(kept)
	if err != nil {
		return nil, err
	}
	return s.vary(c, a, *p, kept.Number)
}

// getVariation gives one variation.
func (s *Server) getVariation(c *gin.Context) error {
	a, kept, err := s.readVariation(c, 0)
	if err != nil {
		return err
	}
	v, err := s.shownVariation(c, a, kept)
	if err != nil {
		return err
	}
	var left []openapi.SurplusLine
	err = s.readTx(c, func(tx store.ReadTx) (err error) {
		left, err = surplusOf(tx, a.shed, kept)
		return err
	})
	if err != nil {
		return err
	}
	// It follows the day, the edition and what is on order.
	return answerOfTheDay(c, http.StatusOK, a.whole.Version, contractVariation(a.whole.Version, kept, v, a.whole.Content.GivenTo(kept.Number), left, principal(c).Role))
}

// listVariations gives all variations of a job.
func (s *Server) listVariations(c *gin.Context) error {
	id, err := pathID(c, "job")
	if err != nil {
		return err
	}
	var entry store.JobEntry
	var list []store.VariationEntry
	err = s.readTx(c, func(tx store.ReadTx) (err error) {
		if entry, err = tx.JobEntry(id); err != nil {
			return notFoundIs(err, "job")
		}
		list, err = tx.Variations(id)
		return err
	})
	if err != nil {
		return err
	}
	role := principal(c).Role
	return answerVersion(c, http.StatusOK, entry.Version, openapi.Variations{
		Variations: mapped(list, func(e store.VariationEntry) openapi.VariationEntry { return contractVariationEntry(&e, role) }),
	})
}

// getAgreement gives what a job comes to, and the choices that a variation
// begins with.
func (s *Server) getAgreement(c *gin.Context) error {
	id, err := pathID(c, "job")
	if err != nil {
		return err
	}
	a, err := s.agreedJob(c, id, 0)
	if err != nil {
		return err
	}
	return answerVersion(c, http.StatusOK, a.whole.Version, contractAgreement(&a.Agreement, principal(c).Role))
}
