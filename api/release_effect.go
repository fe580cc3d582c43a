package api

import (
	"errors"
	"fmt"
	"unicode/utf8"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"
	"github.com/shopspring/decimal"

	"wainscot/api/store"
	"wainscot/bom/calendar"
	"wainscot/openapi"
	"wainscot/pricing/money"
	"wainscot/pricing/quote"
)

// What a release makes of an open quote: the same question worked out with the
// one and the other, with the edition it has and the prices that hold, as a
// revision of it would be. Nothing is kept.

// quoteEffect is what becomes of one quote.
type quoteEffect struct {
	quote.Effect
	// impossible says for both sides what stands in the way of working it out;
	// empty where nothing does.
	impossible [2][]openapi.FieldError
	// aside are choices that have to be put aside with the later release, and
	// had not to be with the earlier.
	aside []openapi.FieldError
}

func (e *quoteEffect) possible(side int) bool { return len(e.impossible[side]) == 0 }

func (e *quoteEffect) same() bool {
	if !e.possible(0) || !e.possible(1) {
		return e.possible(0) == e.possible(1)
	}
	return e.Same && len(e.aside) == 0
}

// openQuote is what an open quote asks, and what it is worked out from.
type openQuote struct {
	asked   quote.Asked
	edition store.EditionEntry
	// document is what was issued; nil for a draft.
	document *quote.Document
	held     *quote.Document // the revision whose prices hold
}

func (s *Server) effectOn(c *gin.Context, head *store.QuoteEntry, was, is *comparedRelease) (quoteEffect, error) {
	var e quoteEffect
	q, err := s.openQuote(c, head.ID)
	if told, ok := errors.AsType[*problem](err); ok {
		e.impossible = [2][]openapi.FieldError{told.asErrors(), told.asErrors()}
		return e, nil
	}
	if err != nil {
		return e, err
	}
	var sides [2]*quote.Document
	var aside [2][]openapi.FieldError
	for i, r := range []*comparedRelease{was, is} {
		if q.document != nil && q.document.Release.Hash == r.release.Hash() {
			sides[i] = q.document // as it was offered
			continue
		}
		w, err := s.workedUnder(c, q, r)
		if err == nil {
			aside[i], err = putAside(w)
		}
		if told, ok := errors.AsType[*problem](err); ok {
			e.impossible[i] = told.asErrors()
			continue
		}
		if err != nil {
			return e, fmt.Errorf("quote %d with another release: %w", head.Number, err)
		}
		about := q.document
		if about == nil {
			about = &quote.Document{}
		}
		sides[i] = about.Under(w)
	}
	if e.possible(0) && e.possible(1) {
		e.Effect = quote.EffectOf(sides[0], sides[1], is.release.Catalogue())
	}
	if len(aside[0]) < len(aside[1]) {
		e.aside = aside[1]
	}
	return e, nil
}

// openQuote reads an open quote. That a draft names what is not there any more
// is a problem of it.
func (s *Server) openQuote(c *gin.Context, id uuid.UUID) (*openQuote, error) {
	q := &openQuote{}
	var revision store.Revision
	var from *source
	var asked *quote.Asked
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		if _, revision, err = tx.Latest(id); err != nil {
			return err
		}
		if revision.State != store.Draft {
			edition, err := tx.Edition(revision.Edition)
			q.edition = edition.EditionEntry
			return err
		}
		if asked, err = askedBefore(&revision); err != nil {
			return err
		}
		from, err = s.lookUp(tx, draftNeeds(id, revision.Number, asked))
		return err
	})
	if err != nil {
		return nil, err
	}
	if asked == nil {
		if q.document, err = documentOf(&revision); err != nil {
			return nil, err
		}
		q.asked, q.held = q.document.Asked, q.document
		return q, nil
	}
	q.edition, q.asked = from.edition, withVansNow(asked, from.vans)
	if from.held != nil {
		if q.held, err = documentOf(from.held); err != nil {
			return nil, err
		}
	}
	if q.asked.Terms.Day == "" {
		q.asked.Terms.Day = from.today
	}
	if q.asked.Terms.ValidUntil == "" {
		q.asked.Terms.ValidUntil, err = calendar.Add(from.today, from.settings.ValidDays)
	}
	return q, err
}

// documentOf is what was frozen.
func documentOf(r *store.Revision) (*quote.Document, error) {
	text, err := r.Document.Unpack()
	if err != nil {
		return nil, err
	}
	return quote.Decode(text)
}

// workedUnder works an open quote out with a release. What it cannot be for is
// a problem.
func (s *Server) workedUnder(c *gin.Context, q *openQuote, r *comparedRelease) (*quote.Worked, error) {
	o := quote.Offer{Number: r.number, Release: r.release, Held: q.held}
	var err error
	if o.Book, err = s.edition(c, r.release, q.edition); err != nil {
		return nil, err
	}
	if q.held != nil {
		if o.HeldBooks, err = s.heldBooks(c, r.release, q.held); err != nil {
			return nil, err
		}
	}
	w, faults, err := quote.Work(o, q.asked)
	if err != nil {
		return nil, engineProblem(err)
	}
	if len(faults) > 0 {
		return nil, askedRefused(faults)
	}
	return &w, nil
}

// asErrors are a problem's errors, or itself as the one.
func (p *problem) asErrors() []openapi.FieldError {
	if len(p.errors) > 0 {
		return p.errors[:min(len(p.errors), maxFieldErrors)]
	}
	return []openapi.FieldError{{Field: "/", Code: string(p.code), Reason: p.detail, Remedy: p.remedy}}
}

// Bounds of what is told of one quote.
const (
	maxEffectSentences = 200
	maxMoved           = 500
)

func contractEffect(head *store.QuoteEntry, e *quoteEffect) openapi.QuoteEffect {
	out := openapi.QuoteEffect{
		Id: head.ID.String(), Number: whole(int(head.Number)), State: openapi.QuoteState(head.State), Revision: whole(int(head.Revision)), Vans: whole(len(head.Vans)),
		Same: e.same(), Possible: e.possible(1), PossibleBefore: e.possible(0),
		Gained: mapped(e.Gained[:min(len(e.Gained), maxMoved)], contractMoved), Lost: mapped(e.Lost[:min(len(e.Lost), maxMoved)], contractMoved),
		PutAside: orNone(e.aside[:min(len(e.aside), maxFieldErrors)]), OtherSheet: e.OtherSheet,
		Sentences: mapped(e.Sentences[:min(len(e.Sentences), maxEffectSentences)], contractSentence),
	}
	out.InTheWay = orNone(e.impossible[1])
	if !e.possible(0) || !e.possible(1) {
		return out
	}
	difference := e.Is.Gross.Minor() - e.Was.Gross.Minor()
	if d, err := e.Is.Gross.WithMinor(difference); err == nil {
		out.Difference = contractAmount(d)
	}
	out.Before, out.After = contractEffectSums(&e.Was), contractEffectSums(&e.Is)
	return out
}

func contractMoved(m quote.Moved) openapi.MovedFeature {
	return openapi.MovedFeature{Van: whole(m.Van), Feature: m.Code, Name: m.Name, Was: whole(m.Was), Is: whole(m.Is)}
}

func contractEffectSums(s *quote.EffectSums) openapi.EffectSums {
	return openapi.EffectSums{Gross: contractAmount(s.Gross), Hours: plain(s.Hours), MassKg: plain(s.MassKG), ReadyToIssue: s.Ready}
}

// effectTotal adds the effects of a page up.
type effectTotal struct {
	currency                           money.Currency
	quotes, changed, impossible        int
	before, after                      int64
	hoursWas, hoursIs, massWas, massIs decimal.Decimal
}

func (t *effectTotal) add(e *quoteEffect) error {
	t.quotes++
	if !e.same() {
		t.changed++
	}
	if !e.possible(1) {
		t.impossible++
	}
	if !e.possible(0) || !e.possible(1) {
		return nil
	}
	if e.Is.Gross.Currency() != t.currency || e.Was.Gross.Currency() != t.currency {
		return errors.New("a quote is not in the workshop's currency")
	}
	t.before, t.after = t.before+e.Was.Gross.Minor(), t.after+e.Is.Gross.Minor()
	t.hoursWas, t.hoursIs = t.hoursWas.Add(e.Was.Hours), t.hoursIs.Add(e.Is.Hours)
	t.massWas, t.massIs = t.massWas.Add(e.Was.MassKG), t.massIs.Add(e.Is.MassKG)
	return nil
}

func (t *effectTotal) contract() (openapi.EffectTotals, error) {
	out := openapi.EffectTotals{
		Quotes: whole(t.quotes), Changed: whole(t.changed), Impossible: whole(t.impossible),
		HoursBefore: plain(t.hoursWas), HoursAfter: plain(t.hoursIs), MassBeforeKg: plain(t.massWas), MassAfterKg: plain(t.massIs),
	}
	for _, one := range []struct {
		into  *openapi.Money
		minor int64
	}{{&out.Before, t.before}, {&out.After, t.after}, {&out.Difference, t.after - t.before}} {
		a, err := money.FromMinor(one.minor, t.currency)
		if err != nil {
			return out, err
		}
		*one.into = contractAmount(a)
	}
	return out, nil
}

// cutWords keeps a text within the contract's bound of words.
func cutWords(text string) string {
	const most = 19_000
	if len(text) <= most {
		return text
	}
	cut := text[:most]
	for !utf8.ValidString(cut) {
		cut = cut[:len(cut)-1]
	}
	return cut + "…"
}
