package api

import (
	"fmt"
	"net/http"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"
	"github.com/shopspring/decimal"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/bom/formula"
	"wainscot/openapi"
	"wainscot/pricing/quote"
)

// answerCheck keeps what the workshop says to a check that the draft does not
// meet: evidence, or that the owner goes on. It is part of what is asked for
// and stays with the van while the draft is changed, up to the figure it was
// given for.
func (s *Server) answerCheck(c *gin.Context) error {
	sent, err := decode[openapi.Answer](c)
	if err != nil {
		return err
	}
	p := principal(c)
	if err := mayAnswer(p.Role, bom.AnswerKind(sent.Kind)); err != nil {
		return err
	}
	limit, err := decimal.NewFromString(sent.Limit)
	if err != nil {
		return brokenField("/limit", "wrong_form", "It is not a decimal number.", "Write it in digits, like 3500.")
	}
	given := bom.CheckAnswer{Check: sent.Check, Kind: bom.AnswerKind(sent.Kind), Limit: limit, Says: sent.Says, Day: sent.Day, By: p.Person.String()}
	return s.changeAnswers(c, int(sent.Van), sent.Check, true, func(d *answering) error { return d.give(given) })
}

// withdrawAnswer takes an answer back.
func (s *Server) withdrawAnswer(c *gin.Context) error {
	sent, err := decode[openapi.AnsweredCheck](c)
	if err != nil {
		return err
	}
	role := principal(c).Role
	return s.changeAnswers(c, int(sent.Van), sent.Check, false, func(d *answering) error {
		k := slices.IndexFunc(*d.answers, func(a bom.CheckAnswer) bool { return a.Check == sent.Check })
		if k < 0 {
			return notOfTheDraft("/check", "It has no answer.", "Name one of the draft's answered checks by its code.")
		}
		if err := mayAnswer(role, (*d.answers)[k].Kind); err != nil {
			return err
		}
		*d.answers = slices.Delete(slices.Clone(*d.answers), k, k+1)
		return nil
	})
}

// mayAnswer: what nobody has to answer for but the owner is the owner's.
func mayAnswer(r auth.Role, kind bom.AnswerKind) error {
	if kind == bom.GoingOn && r != auth.Owner {
		return &problem{
			code: openapi.ProblemCodeRoleNotAllowed, detail: "To go on with a check that is not met is the owner's to say.",
			remedy: "Ask an owner, or answer it with evidence.",
		}
	}
	return nil
}

// answering is one van's answers being changed.
type answering struct {
	check   *catalogue.Check
	answers *[]bom.CheckAnswer
	today   string
}

// give puts an answer in the place of the check's last one.
func (d *answering) give(a bom.CheckAnswer) error {
	if a.Kind == bom.GoingOn && d.check.Grade == catalogue.Must {
		return answerRefused("/kind", "must_not_go_on", fmt.Sprintf("“%s” must be met; nobody can go on without.", d.check.Name),
			"Answer it with evidence, or change what is chosen.")
	}
	if a.Day == "" {
		a.Day = d.today
	} else if a.Day > d.today {
		return answerRefused("/day", "to_come", "That day is to come.", "Give the day of the evidence, or leave it out for today.")
	}
	kept := slices.DeleteFunc(slices.Clone(*d.answers), func(b bom.CheckAnswer) bool { return b.Check == a.Check })
	*d.answers = append(kept, a)
	return nil
}

// holds says whether the answer that was given does, where it is needed.
func (d *answering) holds(results []bom.CheckResult) error {
	k := slices.IndexFunc(results, func(r bom.CheckResult) bool { return r.Code == d.check.Code })
	switch {
	case k < 0 || results[k].Met:
		return &problem{
			code: openapi.ProblemCodeStateConflict, detail: fmt.Sprintf("“%s” is met as the draft stands, or not asked of it.", d.check.Name),
			remedy: "Nothing has to be answered; read the quote again.",
		}
	case !results[k].Answered:
		r := &results[k]
		return answerRefused("/limit", "too_little", fmt.Sprintf("The figure is %s, and the answer would hold only where it is %s the limit.",
			strings.TrimSpace(plain(r.Figure)+" "+formula.UnitWords(r.Unit)), r.Sense), "Give a limit that the evidence or the owner stands for, or change what is chosen.")
	}
	return nil
}

func answerRefused(field, code, reason, remedy string) error {
	return &problem{
		code: openapi.ProblemCodeChoicesRefused, detail: "The check cannot be answered so.", remedy: remedy,
		errors: []openapi.FieldError{{Field: field, Code: code, Reason: reason, Remedy: remedy}},
	}
}

// changeAnswers changes what is answered of one van of a draft, and keeps it
// worked out anew. An answer that is given has to be needed, and to hold.
func (s *Server) changeAnswers(c *gin.Context, place int, check string, given bool, change func(*answering) error) error {
	id, version, err := pathVersion(c, "quote")
	if err != nil {
		return err
	}
	head, asked, from, err := s.draftToIssue(c, id, version, "", false)
	if err != nil {
		return err
	}
	if place > len(asked.Vans) {
		return notOfTheDraft("/van", fmt.Sprintf("The quote has no van %d.", place), fmt.Sprintf("Count them from 1 to %d.", len(asked.Vans)))
	}
	offer, err := s.quoteOffer(c, from)
	if err != nil {
		return err
	}
	d := answering{check: checkOf(offer.Release, check), answers: &asked.Vans[place-1].Choices.Answers, today: from.today}
	if d.check == nil {
		return notOfTheDraft("/check", fmt.Sprintf("The catalogue has no check %q.", check), "Name one of the quote's checks by its code.")
	}
	if err := change(&d); err != nil {
		return err
	}
	w, err := s.workDraft(c, from, asked)
	if err == nil && given {
		err = d.holds(w.seen().Vans[place-1].Sheet.Checks)
	}
	if err != nil {
		return err
	}
	content, err := w.keepable(contentOf(&head))
	if err != nil {
		return err
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		head, err := tx.AnswerCheck(id, version, content)
		if err != nil {
			return reply{}, err
		}
		return keptReply(c, http.StatusOK, w.shown(head)), nil
	})
}

// checkOf finds a check by its code; nil for none.
func checkOf(r *bom.Release, code string) *catalogue.Check {
	checks := r.Catalogue().Checks
	for i := range checks {
		if checks[i].Code == code {
			return &checks[i]
		}
	}
	return nil
}

// contentOf is what a draft has beside what it asks for.
func contentOf(head *store.QuoteEntry) store.QuoteContent {
	return store.QuoteContent{
		Customer: head.Customer, EndCustomer: head.EndCustomer, Enquiry: head.Enquiry,
		SlotWanted: head.SlotWanted, FollowUpOn: head.FollowUpOn, Note: head.Note, Vans: head.Vans,
	}
}

// notOfTheDraft: a request names something that the draft has not.
func notOfTheDraft(field, reason, remedy string) error {
	return &problem{
		code: openapi.ProblemCodeUnknownReference, detail: "The draft has no such thing.", remedy: "Mend the field named in errors.",
		errors: []openapi.FieldError{{Field: field, Code: "unknown", Reason: reason, Remedy: remedy}},
	}
}

// stillAsked leaves out the answers of a draft to what the catalogue does not
// ask any more: they are no part of a quote's content, so nobody could mend
// them there.
func (s *Server) stillAsked(c *gin.Context, from *source, before *quote.Asked) (*quote.Asked, error) {
	if before == nil || !slices.ContainsFunc(before.Vans, func(v quote.AskedVan) bool { return len(v.Choices.Answers) > 0 }) {
		return before, nil
	}
	offer, err := s.quoteOffer(c, from)
	if err != nil {
		return nil, err
	}
	now := *before
	now.Vans = slices.Clone(before.Vans)
	for i := range now.Vans {
		answers := slices.Clone(now.Vans[i].Choices.Answers)
		now.Vans[i].Choices.Answers = slices.DeleteFunc(answers, func(a bom.CheckAnswer) bool {
			check := checkOf(offer.Release, a.Check)
			return check == nil || a.Kind == bom.GoingOn && check.Grade == catalogue.Must
		})
	}
	return &now, nil
}

// answersBefore are the answers that a van had until now, where it is the same
// one.
func answersBefore(before *quote.Asked, place int, now *quote.AskedVan) []bom.CheckAnswer {
	if before == nil || place >= len(before.Vans) {
		return nil
	}
	was := &before.Vans[place]
	if was.Van != now.Van || was.Facts.BaseVan != now.Facts.BaseVan {
		return nil
	}
	return was.Choices.Answers
}

// contractCheckAnswer shows an answer. Why the owner goes on stays with those
// who are shown what things cost.
func contractCheckAnswer(a bom.CheckAnswer, r auth.Role) openapi.CheckAnswer {
	shown := openapi.CheckAnswer{Check: a.Check, Kind: openapi.AnswerKind(a.Kind), Limit: plain(a.Limit), Day: a.Day}
	if a.Kind == bom.ByEvidence || r.SeesCost() {
		shown.Says, shown.By = a.Says, a.By
	}
	return shown
}
