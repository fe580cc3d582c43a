package api

import (
	"errors"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"wainscot/api/auth"
	"wainscot/bom"
	"wainscot/bom/document"
	"wainscot/bom/options"
	"wainscot/openapi"
	"wainscot/pricing"
)

// resolve answers what choices come to, and keeps nothing.
func (s *Server) resolve(c *gin.Context) error {
	asked, err := decode[openapi.ResolveRequest](c)
	if err != nil {
		return err
	}
	w, err := s.workOut(c, question{asked.Van, asked.Choices, asked.Additions, asked.Terms, asked.Settle})
	if err != nil {
		return err
	}
	wants := func(part openapi.ResolveRequestInclude) bool {
		return asked.Include == nil || slices.Contains(asked.Include, part)
	}
	role := principal(c).Role
	told := optionsTeller{model: w.model, resolution: &w.resolution, reasons: wants(openapi.ResolveRequestIncludeReasons)}
	resolution := openapi.Resolution{
		Release:      releaseOf(w.offer.number, w.offer.release),
		Edition:      w.offer.book.Edition().Code,
		Engine:       options.Engine,
		Allowed:      w.resolution.Specification.Allowed,
		Settled:      w.resolution.Specification.Settled,
		ReadyToIssue: w.ready(),
		NotReady:     contractNotReady(w.notReady, w.priced, role),
		Said:         told.said(),
		Options:      told.options(),
		Settings:     told.settings(),
		PutAside:     told.putAside(),
		Unsettled:    told.unsettled(),
		Checks:       contractChecks(w.sheet.Checks, role),
		Totals:       contractTotals(w.sheet, w.priced, role),
	}
	if wants(openapi.ResolveRequestIncludeQuestions) {
		questions, err := bom.Questions(w.offer.release, &w.resolution)
		if err != nil {
			return engineProblem(err)
		}
		resolution.Questions = mapped(questions, contractQuestion)
	}
	if wants(openapi.ResolveRequestIncludeSpecification) {
		resolution.Specification = contractSpecification(w.resolution.Specification)
	}
	if wants(openapi.ResolveRequestIncludeSheet) {
		resolution.Sheet = contractSheet(w.sheet)
	}
	if wants(openapi.ResolveRequestIncludePrice) {
		resolution.Price = contractPrice(w.priced, role)
		resolution.Costing = contractCosting(w.sheet, w.priced, role)
	}
	return answer(c, http.StatusOK, resolution)
}

// question is what is asked of the engine and the price-book.
type question struct {
	van       openapi.Van
	choices   openapi.Choices
	additions []openapi.Addition
	terms     openapi.Terms
	settle    openapi.Settle
}

// inquiry is a question read, with what the workshop offers on its day.
type inquiry struct {
	offer   offer
	van     bom.Van
	choices bom.Choices
	settle  bom.Settle
	terms   pricing.Terms
}

// inquire reads a question.
func (s *Server) inquire(c *gin.Context, q question) (a inquiry, err error) {
	if a.offer, err = s.pricedOffer(c, q.terms.Day); err != nil {
		return a, err
	}
	a.choices, a.settle = domainChoices(q.choices), domainSettle(q.settle)
	if a.van, err = domainVan(q.van); err != nil {
		return a, err
	}
	if a.terms, err = domainTerms(q.terms, a.offer.day, a.offer.book.Currency(), principal(c).Role); err != nil {
		return a, err
	}
	return a, a.add(q.additions)
}

// worked is the way of a question through the house.
type worked struct {
	inquiry
	model      *options.Model
	resolution bom.Resolution
	sheet      bom.Sheet
	priced     pricing.Priced
	notReady   []bom.NotReady
}

// ready says whether nothing stands in the way of issuing.
func (w *worked) ready() bool {
	return len(w.notReady) == 0 && len(w.priced.Gaps) == 0 && w.priced.Refusal == nil
}

// workOut resolves, expands and prices.
func (s *Server) workOut(c *gin.Context, q question) (*worked, error) {
	asked, err := s.inquire(c, q)
	if err != nil {
		return nil, err
	}
	w := &worked{inquiry: asked}
	o := &w.offer
	var faults document.Faults
	w.resolution, faults, err = bom.Resolve(o.release, w.van, w.choices, w.settle)
	if err == nil && len(faults) > 0 {
		return nil, choicesRefused(faults)
	}
	if err == nil {
		w.model, err = model(o.release, w.van.BaseVan)
	}
	if err != nil {
		return nil, engineProblem(err)
	}
	w.sheet = bom.ExpandIn(roomOf(c), o.release, w.resolution.Specification)
	if w.priced, err = pricing.Price(w.sheet, w.resolution.Specification, o.book, w.terms); err != nil {
		if errors.As(err, &faults) {
			return nil, termsRefused(faults)
		}
		return nil, err
	}
	w.notReady = bom.Ready(o.release, w.resolution.Specification, w.sheet)
	return w, nil
}

// add takes what no feature stands for, work and price. No foreman has seen it.
func (w *inquiry) add(list []openapi.Addition) error {
	for i, a := range list {
		work, price, err := domainAddition(a, w.offer.book.Currency())
		if err != nil {
			return under(err, "/additions/"+strconv.Itoa(i))
		}
		w.choices.Additions = append(w.choices.Additions, work)
		w.terms.Additions = append(w.terms.Additions, price)
	}
	return nil
}

// model is the engine's own list of features, groups, rules and settings, in
// which its answers are places.
func model(r *bom.Release, baseVan string) (*options.Model, error) {
	rules, err := r.Rules(baseVan)
	if err != nil {
		return nil, err
	}
	return rules.Model(), nil
}

// engineProblem says what an error of the engine means to whoever asked.
func engineProblem(err error) error {
	switch {
	case errors.Is(err, options.ErrBudget):
		return &problem{
			code:   openapi.ProblemCodeTooHard,
			detail: "The rules of this catalogue took more work to decide than one question may.",
			remedy: "Decide more of the choices, or have the catalogue's rules looked at.",
		}
	case errors.Is(err, options.ErrNothingAllowed):
		return &problem{
			code:   openapi.ProblemCodeChoicesRefused,
			detail: "The catalogue's rules allow nothing at all on this base van.",
			remedy: "Have the catalogue's rules looked at.",
		}
	}
	return err
}

// choicesRefused says what is wrong with a van and choices themselves.
func choicesRefused(faults document.Faults) error {
	return refused(openapi.ProblemCodeChoicesRefused, "The van or the choices are not of this catalogue.", faults, "")
}

func termsRefused(faults document.Faults) error {
	return refused(openapi.ProblemCodeTermsRefused, "The terms are not for this price-book.", faults, "terms/")
}

// refused makes a problem of faults the domain found.
func refused(code openapi.ProblemCode, detail string, faults document.Faults, under string) error {
	p := &problem{code: code, detail: detail, remedy: "Mend the fields named in errors."}
	for _, f := range faults {
		at := under + f.At
		if before, rest, ok := strings.Cut(at, "/additions/"); ok && (before == "choices" || before == "terms") {
			at = "additions/" + rest // they stand by themselves, work and price in one
		}
		p.errors = append(p.errors, openapi.FieldError{
			Field: fieldOf(at), Code: f.Code, Reason: f.Reason, Remedy: f.Remedy,
		})
	}
	return p
}

// fieldOf makes a JSON pointer of a path in a document, which counts members
// of lists from 1.
func fieldOf(at string) string {
	steps := strings.Split(at, "/")
	for i, step := range steps {
		if n, err := strconv.Atoi(step); err == nil && n > 0 {
			steps[i] = strconv.Itoa(n - 1)
		}
	}
	return "/" + strings.Join(steps, "/")
}

// contractNotReady is everything that stands in the way of issuing: what the
// sheet says, and for those who are shown prices what the price says.
func contractNotReady(list []bom.NotReady, p pricing.Priced, r auth.Role) []openapi.NotReady {
	all := mapped(list, func(n bom.NotReady) openapi.NotReady {
		return openapi.NotReady{Code: openapi.NotReadyCode(n.Code), About: n.About, Says: n.Says}
	})
	if !seesPrices(r) {
		if len(p.Gaps) > 0 || p.Refusal != nil {
			all = append(all, openapi.NotReady{Code: openapi.NotReadyCodePriceGap, Says: "The price is not whole yet."})
		}
		return all
	}
	for _, g := range p.Gaps {
		all = append(all, openapi.NotReady{Code: openapi.NotReadyCodePriceGap, About: g.At, Says: g.Says})
	}
	if p.Refusal != nil {
		all = append(all, openapi.NotReady{Code: openapi.NotReadyCodeDiscountRefused, Says: contractRefusal(p.Refusal, r).Says})
	}
	return all[:min(len(all), maxNotReady)]
}

// maxNotReady is the contract's bound.
const maxNotReady = 500

func contractTotals(sheet bom.Sheet, p pricing.Priced, r auth.Role) openapi.Totals {
	totals := openapi.Totals{Lines: whole(len(sheet.Lines)), Hours: plain(sheet.Hours), Mass: contractMass(sheet.Mass)}
	if !seesPrices(r) {
		return totals
	}
	totals.Net, totals.Vat, totals.Gross = contractAmount(p.Totals.Net), contractAmount(p.Totals.VAT), contractAmount(p.Totals.Gross)
	for _, step := range p.Payments {
		if string(step.When) == string(openapi.PaymentWhenOnAcceptance) {
			totals.DueOnAcceptance = contractAmount(step.Amount)
			break
		}
	}
	return totals
}
