package api

import (
	"slices"

	"github.com/gin-gonic/gin"
	"github.com/shopspring/decimal"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/bom"
	"wainscot/openapi"
	"wainscot/pricing/job"
	"wainscot/pricing/quote"
)

// From a draft of a variation to its answer.

// readDraft reads the draft of the address at the version of its job that was
// seen, and what it proposes.
func (s *Server) readDraft(c *gin.Context) (*agreedJob, *store.Variation, *job.Proposal, error) {
	version, err := ifMatch(c)
	if err != nil {
		return nil, nil, nil, err
	}
	a, kept, err := s.readVariation(c, version)
	if err != nil {
		return nil, nil, nil, err
	}
	if kept.State != job.VariationDraft {
		return nil, nil, nil, store.ErrState
	}
	p, err := proposalOf(kept)
	return a, kept, p, err
}

// approveVariationAddition keeps the foreman's yes to an addition of a draft.
func (s *Server) approveVariationAddition(c *gin.Context) error {
	sent, err := decode[openapi.VariationApproval](c)
	if err != nil {
		return err
	}
	a, kept, p, err := s.readDraft(c)
	if err != nil {
		return err
	}
	k := slices.IndexFunc(p.Choices.Additions, func(d bom.Addition) bool { return d.Code == sent.Addition })
	if k < 0 {
		return brokenTerms("/addition", "unknown_code", "The draft has no addition of that code.", "Name one of its additions; a finding is approved by itself.")
	}
	p.Choices.Additions[k].Approved = true
	v, err := s.vary(c, a, *p, kept.Number)
	if err != nil {
		return err
	}
	return s.keepProposal(c, a, v, p, kept.Number)
}

// answerVariationCheck keeps what the workshop says to a check that a draft does
// not meet, as answerCheck does of a quote. It has to be needed, and to hold.
func (s *Server) answerVariationCheck(c *gin.Context) error {
	sent, err := decode[openapi.VariationAnswer](c)
	if err != nil {
		return err
	}
	by := principal(c)
	if err := mayAnswer(by.Role, bom.AnswerKind(sent.Kind)); err != nil {
		return err
	}
	limit, err := decimal.NewFromString(sent.Limit)
	if err != nil {
		return brokenField("/limit", "wrong_form", "It is not a decimal number.", "Write it in digits, like 3500.")
	}
	a, kept, p, err := s.readDraft(c)
	if err != nil {
		return err
	}
	p.Choices.Answers = a.answers(p)
	d := answering{check: checkOf(a.release, sent.Check), answers: &p.Choices.Answers, today: a.ground.today}
	if d.check == nil {
		return notOfTheDraft("/check", "The job's catalogue has no such check.", "Name one of the variation's checks by its code.")
	}
	if err := d.give(bom.CheckAnswer{Check: sent.Check, Kind: bom.AnswerKind(sent.Kind), Limit: limit, Says: sent.Says, Day: sent.Day, By: by.Person.String()}); err != nil {
		return err
	}
	v, err := s.vary(c, a, *p, kept.Number)
	if err == nil {
		err = d.holds(v.Van.Sheet.Checks)
	}
	if err != nil {
		return err
	}
	return s.keepProposal(c, a, v, p, kept.Number)
}

// withdrawVariationAnswer takes an answer of a draft back: what was agreed of the
// check holds again.
func (s *Server) withdrawVariationAnswer(c *gin.Context) error {
	sent, err := decode[openapi.VariationCheck](c)
	if err != nil {
		return err
	}
	a, kept, p, err := s.readDraft(c)
	if err != nil {
		return err
	}
	of := func(n bom.CheckAnswer) bool { return n.Check == sent.Check }
	k := slices.IndexFunc(p.Choices.Answers, of)
	if k < 0 || slices.ContainsFunc(a.Asked.Vans[0].Choices.Answers, func(was bom.CheckAnswer) bool { return of(was) && sameText(was, p.Choices.Answers[k]) }) {
		return notOfTheDraft("/check", "The draft has no answer of its own to it.", "Name one of the checks that this draft answers.")
	}
	if err := mayAnswer(principal(c).Role, p.Choices.Answers[k].Kind); err != nil {
		return err
	}
	p.Choices.Answers = slices.Delete(slices.Clone(p.Choices.Answers), k, k+1)
	p.Choices.Answers = a.answers(p)
	v, err := s.vary(c, a, *p, kept.Number)
	if err != nil {
		return err
	}
	return s.keepProposal(c, a, v, p, kept.Number)
}

// sendVariation works a draft out for the last time and freezes it.
func (s *Server) sendVariation(c *gin.Context) error {
	a, kept, p, err := s.readDraft(c)
	if err != nil {
		return err
	}
	v, err := s.vary(c, a, *p, kept.Number)
	if err != nil {
		return err
	}
	now, faults := a.whole.Content.Send(v)
	if len(faults) > 0 {
		if len(v.NotReady) > 0 {
			return variationUnready(v, principal(c).Role)
		}
		return jobRefusal("The variation cannot be sent.", faults)
	}
	text, err := v.Encode()
	if err != nil {
		return err
	}
	content := keptVariation(v, store.Pack(text))
	return s.keepVariation(c, a, &now, v, func(tx store.WriteTx) (sent store.Variation, err error) {
		sent.VariationEntry, err = tx.SendVariation(a.whole.ID, kept.Number, a.ground.today, content)
		return sent, err
	})
}

// variationUnready says what stands in the way of sending.
func variationUnready(v *job.Varied, r auth.Role) *problem {
	p := &problem{code: openapi.ProblemCodeNotReady, detail: "The variation cannot be sent yet.", remedy: "Settle what errors names; not_ready of the variation lists the same."}
	for _, n := range contractVariationStops(v.NotReady, r) {
		p.errors = append(p.errors, openapi.FieldError{Field: "/", Code: n.Code, Reason: n.Says, Remedy: "Mend it, and propose the variation anew."})
	}
	return p
}

// yesToVariation is the customer's yes worked out: what the job is then.
type yesToVariation struct {
	a        *agreedJob
	number   int64
	now      job.Job
	consent  job.Consent
	by       string
	evidence []store.Evidence
}

// yes holds a consent against what was sent.
func (a *agreedJob) yes(kept *store.Variation, v *job.Variation, consent job.Consent, by string, evidence []store.Evidence) (*yesToVariation, error) {
	if !kept.State.Over(job.VariationAccepted) {
		return nil, store.ErrState
	}
	now, faults := a.whole.Content.Accept(v, consent, a.release.Catalogue().Stages)
	if len(faults) > 0 {
		return nil, jobRefusal("The yes does not go with what was sent.", faults)
	}
	return &yesToVariation{a, kept.Number, now, consent, by, evidence}, nil
}

// keepYes writes it, the job aside, with all that comes of it.
func (s *Server) keepYes(c *gin.Context, y *yesToVariation, v *job.Variation) (func(store.WriteTx) (store.Variation, error), error) {
	floor, err := s.onFloor(c, y.a, v)
	if err != nil {
		return nil, err
	}
	shed, err := s.shedding(c, y.a, v)
	if err != nil {
		return nil, err
	}
	return func(tx store.WriteTx) (store.Variation, error) {
		kept, err := y.keep(tx)
		if err == nil && floor != nil {
			err = s.slotWithYes(tx, floor, v, y.a.ground.today)
		}
		if err == nil && shed != nil {
			err = shed.keep(tx)
		}
		return kept, err
	}, nil
}

func (y *yesToVariation) keep(tx store.WriteTx) (kept store.Variation, err error) {
	if err := keepCustomers(tx, y.a.head, y.consent.On, y.a.ground.settings.KeepYears); err != nil {
		return kept, err
	}
	kept.VariationEntry, err = tx.AcceptVariation(y.a.whole.ID, y.number, y.consent, y.by, y.evidence)
	kept.Evidence = withoutContent(y.evidence) // it is not kept a second time
	return kept, err
}

// acceptVariation keeps the customer's yes, and gives the job its new sheet.
func (s *Server) acceptVariation(c *gin.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	sent, err := decode[openapi.VariationYes](c)
	if err != nil {
		return err
	}
	evidence, err := domainEvidence(sent.Evidence)
	if err != nil {
		return err
	}
	a, kept, err := s.readVariation(c, version)
	if err != nil {
		return err
	}
	v, err := s.shownVariation(c, a, kept)
	if err != nil {
		return err
	}
	consent := a.consent(a.act(c, sent.On).On, quote.How(sent.How), quote.Place(sent.SalePlace), sent.ExpressRequest)
	if consent.On > a.ground.today {
		return brokenTerms("/on", "too_late", "That day has not come.", "Give the day of the customer's yes.")
	}
	y, err := a.yes(kept, &v.Variation, consent, sent.By, requested(evidence, sent.ExpressRequest))
	if err != nil {
		return err
	}
	keep, err := s.keepYes(c, y, &v.Variation)
	if err != nil {
		return err
	}
	return s.keepVariation(c, a, &y.now, v, keep)
}

// declineVariation keeps the customer's no.
func (s *Server) declineVariation(c *gin.Context) error {
	return s.endVariation(c, job.VariationDeclined)
}

// withdrawVariation takes a variation back.
func (s *Server) withdrawVariation(c *gin.Context) error {
	return s.endVariation(c, job.VariationWithdrawn)
}

func (s *Server) endVariation(c *gin.Context, to job.VariationState) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	a, kept, err := s.readVariation(c, version)
	if err != nil {
		return err
	}
	if !kept.State.Over(to) {
		return store.ErrState
	}
	v, err := s.shownVariation(c, a, kept)
	if err != nil {
		return err
	}
	now := a.whole.Content.NotTaken(&v.Variation)
	return s.keepVariation(c, a, &now, v, func(tx store.WriteTx) (ended store.Variation, err error) {
		ended.VariationEntry, err = tx.EndVariation(a.whole.ID, kept.Number, a.ground.today, to, "", "")
		return ended, err
	})
}
