package api

import (
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"sync"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/store"
	"wainscot/openapi"
	"wainscot/pricing/quote"
)

// issueQuote works the draft out for the last time and freezes it. All heavy
// work is done before the transaction; in it the version is asked again, and
// whether release and edition are still those worked with.
func (s *Server) issueQuote(c *gin.Context) error {
	id, version, err := pathVersion(c, "quote")
	if err != nil {
		return err
	}
	sent, err := decode[openapi.Issue](c)
	if err != nil {
		return err
	}
	head, asked, from, err := s.draftToIssue(c, id, version, sent.ValidUntil, true)
	if err != nil {
		return err
	}
	// The day may have been given by an owner, or have gone by since.
	if err := dayMayBe(asked.Terms.Day, from.today, principal(c).Role); err != nil {
		return err
	}
	w, err := s.workDraft(c, from, asked)
	if err != nil {
		return err
	}
	d, err := quote.Issue(w.Worked, quote.Head{
		Quote: id.String(), Number: head.Number, Revision: int(head.Revision), IssuedOn: from.today,
		Customer: idText(head.Customer), EndCustomer: idText(head.EndCustomer), Paper: paperOf(from.settings),
	})
	if err != nil {
		return issueRefused(c, err, w)
	}
	frozen, err := freeze(d, w.columns())
	if err != nil {
		return err
	}
	q := &shownQuote{document: d, vans: head.Vans, today: from.today}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		if err := stillOffered(tx.ReadTx, from, w.Asked.Terms.Day); err != nil {
			return reply{}, err
		}
		if q.head, err = tx.IssueQuote(id, version, frozen); err != nil {
			return reply{}, err
		}
		q.revision = entryOf(q.head, frozen)
		return keptReply(c, http.StatusOK, q), nil
	})
}

// draftToIssue reads the draft that is to be issued. validUntil is the last day
// asked for; "" is as many days as the workshop has set. At hand, it may be one
// that is remembered without its note and vans.
func (s *Server) draftToIssue(c *gin.Context, id uuid.UUID, version int64, validUntil string, atHand bool) (store.QuoteEntry, *quote.Asked, *source, error) {
	var head store.QuoteEntry
	var asked *quote.Asked
	var from *source
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		var revision store.Revision
		if held, ok := s.drafts.look(principal(c), id, version); ok && atHand {
			head, revision.Asked = held.head, held.asked
		} else if head, revision, err = tx.Latest(id); err != nil {
			return notFoundIs(err, "quote")
		}
		if head.Version != version {
			return store.ErrStale
		}
		if head.State != store.Draft {
			return notDraft(head.State)
		}
		if asked, err = askedBefore(&revision); err != nil {
			return err
		}
		from, err = s.lookUp(tx, draftNeeds(id, head.Revision, asked))
		return err
	})
	if err != nil {
		return head, nil, nil, err
	}
	if validUntil != "" {
		if validUntil < from.today {
			return head, nil, nil, &problem{
				code: openapi.ProblemCodeTermsRefused, detail: "The offer would end before it begins.", remedy: "Name today or a later day.",
				errors: []openapi.FieldError{{Field: "/valid_until", Code: "too_early", Reason: "That day is over.", Remedy: "Name today or a later day."}},
			}
		}
		asked.Terms.ValidUntil = validUntil
	}
	return head, asked, from, nil
}

// paperOf is what the workshop prints, as it is set now.
func paperOf(settings store.Settings) quote.Paper {
	return quote.Paper{Letterhead: settings.Letterhead, Terms: settings.QuoteTerms, NotIncluded: settings.NotIncluded}
}

// issueRefused says what stands in the way of issuing.
func issueRefused(c *gin.Context, err error, w *workedQuote) error {
	if _, unready := errors.AsType[*quote.Unready](err); !unready {
		return err
	}
	p := &problem{code: openapi.ProblemCodeNotReady, detail: "The quote cannot be issued yet.", remedy: "Settle what errors names; not_ready of the quote lists the same."}
	for _, n := range contractQuoteNotReady(w.seen().Vans, principal(c).Role) {
		p.errors = append(p.errors, openapi.FieldError{
			Field: "/vans/" + strconv.Itoa(int(n.Van)-1), Code: string(n.Code), Reason: n.Says, Remedy: notReadyRemedy[n.Code],
		})
	}
	return p
}

var notReadyRemedy = map[openapi.NotReadyCode]string{
	openapi.NotReadyCodeNotAllowed:         "Take out what does not fit.",
	openapi.NotReadyCodeNotSettled:         "Choose, or have the rest settled by the workshop's defaults.",
	openapi.NotReadyCodeNoVan:              "Name the van, or choose work that needs none.",
	openapi.NotReadyCodeCheckNotMet:        "Choose so that it is met, or answer it with evidence: POST …/answers.",
	openapi.NotReadyCodeCheckWaitsForOwner: "Choose so that it is met, or have an owner go on with a reason: POST …/answers.",
	openapi.NotReadyCodeFormulaBroken:      "Have the catalogue's formula mended.",
	openapi.NotReadyCodeWaitsForForeman:    "Have the foreman say yes to it: POST …/approvals.",
	openapi.NotReadyCodePriceGap:           "Have an owner put the price into the price-book.",
	openapi.NotReadyCodeDiscountRefused:    "Ask for less, or leave it out.",
	openapi.NotReadyCodeExtraNotReady:      "Leave the extra out, or choose so that it can be had.",
}

// freeze encodes and packs a document: outside the transaction.
func freeze(d *quote.Document, worked store.Worked) (store.Frozen, error) {
	room, _ := freezing.Get().(*[]byte)
	if room == nil {
		room = new([]byte)
	}
	text, err := d.EncodeInto((*room)[:0])
	if err != nil {
		return store.Frozen{}, err
	}
	frozen := store.Frozen{Worked: worked, Document: store.PackQuickly(text), IssuedOn: d.IssuedOn, ValidUntil: d.ValidUntil}
	if *room = text; cap(text) <= maxKeptRoom {
		freezing.Put(room)
	}
	return frozen, nil
}

// freezing is room to write a document in: some 200 kB that nobody needs any
// more once it is packed. What a whole fleet has taken is let go.
var freezing sync.Pool

const maxKeptRoom = 1 << 20

// entryOf is the revision that has just been frozen.
func entryOf(head store.QuoteEntry, f store.Frozen) store.RevisionEntry {
	return store.RevisionEntry{
		Quote: head.ID, Number: head.Revision, State: head.State, Worked: f.Worked,
		IssuedOn: f.IssuedOn, ValidUntil: f.ValidUntil, SHA256: f.Document.SHA256(),
	}
}

// stillOffered refuses to freeze what was worked out with a release or an
// edition that are not those of the moment any more.
func stillOffered(tx store.ReadTx, from *source, day string) error {
	release, err := latestRelease(tx)
	if err != nil {
		return err
	}
	edition, err := editionInForce(tx, day)
	if err != nil {
		return err
	}
	if release.Number != from.release.Number || edition.Code != from.edition.Code {
		return &problem{
			code: openapi.ProblemCodeStateConflict, detail: "The catalogue or the price-book has been published anew meanwhile.",
			remedy: "Read the draft again, which is then worked out with them, and issue it.",
		}
	}
	return nil
}

// reviseQuote opens a draft with what the latest revision asked for. What is
// issued stands, and may still be accepted, until that draft is issued.
func (s *Server) reviseQuote(c *gin.Context) error {
	id, version, err := pathVersion(c, "quote")
	if err != nil {
		return err
	}
	var head store.QuoteEntry
	var asked *quote.Asked
	var from *source
	var vans []store.QuoteVan
	err = s.readTx(c, func(tx store.ReadTx) (err error) {
		var revision store.Revision
		if head, revision, err = tx.Latest(id); err != nil {
			return notFoundIs(err, "quote")
		}
		if head.Version != version {
			return store.ErrStale
		}
		if err := mayBeRevised(head.State); err != nil {
			return err
		}
		vans = revision.Vans
		if asked, err = askedBefore(&revision); err != nil {
			return err
		}
		if err := openDay(tx, asked); err != nil {
			return err
		}
		from, err = s.lookUp(tx, draftNeeds(id, head.Revision+1, asked))
		return err
	})
	if err != nil {
		return err
	}
	w, err := s.workDraft(c, from, asked)
	if err != nil {
		return err
	}
	content, err := w.keepable(store.QuoteContent{
		Customer: head.Customer, EndCustomer: head.EndCustomer, Enquiry: head.Enquiry,
		SlotWanted: head.SlotWanted, FollowUpOn: head.FollowUpOn, Note: head.Note, Vans: vans,
	})
	if err != nil {
		return err
	}
	return s.keepRevision(c, id, version, w, content)
}

// openDay leaves the day open that a revision takes over, when it is over: what
// the last one asked for stays, the prices are of the moment or held.
func openDay(tx store.ReadTx, asked *quote.Asked) error {
	day, err := dayOf(tx)
	if err == nil && asked.Terms.Day < day {
		asked.Terms.Day = ""
	}
	return err
}

// declineQuote keeps the customer's no to what is offered.
func (s *Server) declineQuote(c *gin.Context) error {
	id, version, err := pathVersion(c, "quote")
	if err != nil {
		return err
	}
	sent, err := decode[openapi.Decline](c)
	if err != nil {
		return err
	}
	q, err := s.show(c, id, 0)
	if err != nil {
		return err
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		head, err := tx.DeclineQuote(id, version, sent.Because)
		if errors.Is(err, store.ErrState) {
			return reply{}, nothingOffered()
		}
		if err != nil {
			return reply{}, err
		}
		return keptReply(c, http.StatusOK, q.after(head, head.State)), nil
	})
}

func nothingOffered() *problem {
	return &problem{
		code: openapi.ProblemCodeStateConflict, detail: "Nothing is offered to the customer now.",
		remedy: "Issue the draft first; what has been accepted, declined or superseded stays so.",
	}
}

// listRevisions gives the revisions of a quote, the oldest first.
func (s *Server) listRevisions(c *gin.Context) error {
	id, err := pathID(c, "quote")
	if err != nil {
		return err
	}
	var list []store.RevisionEntry
	var day string
	err = s.readTx(c, func(tx store.ReadTx) (err error) {
		if day, err = dayOf(tx); err == nil {
			list, err = tx.Revisions(id)
		}
		return err
	})
	if err != nil {
		return notFoundIs(err, "quote")
	}
	out := openapi.Revisions{Revisions: make([]openapi.RevisionSummary, len(list))}
	for i := range list {
		out.Revisions[i] = contractRevisionSummary(&list[i], day, principal(c).Role)
	}
	return answer(c, http.StatusOK, out)
}

// getRevision gives one revision.
func (s *Server) getRevision(c *gin.Context) error {
	q, err := s.showAsked(c)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, q.contract(principal(c).Role, partsOf(c)))
}

// showAsked gives the revision the address names.
func (s *Server) showAsked(c *gin.Context) (*shownQuote, error) {
	id, err := pathID(c, "quote")
	if err != nil {
		return nil, err
	}
	number, err := strconv.ParseInt(c.Param("revision"), 10, 32)
	if err != nil || number < 1 {
		return nil, notFound("revision")
	}
	return s.show(c, id, number)
}

// recomputeRevision works a frozen revision out again.
func (s *Server) recomputeRevision(c *gin.Context) error {
	q, err := s.showAsked(c)
	if err != nil {
		return err
	}
	if q.draft() {
		return &problem{code: openapi.ProblemCodeStateConflict, detail: "A draft is worked out whenever it is read.", remedy: "Ask for a revision that has been issued."}
	}
	o, err := s.offerOf(c, q.document)
	if err != nil {
		return err
	}
	again, err := quote.Recompute(o, q.document)
	if err != nil {
		return fmt.Errorf("quote %d, revision %d: %w", q.head.Number, q.revision.Number, err)
	}
	out := openapi.Recomputed{
		Same: again.Same, Sha256: again.SHA256, Sha256Now: again.SHA256Now, Engine: again.Engine, EngineNow: again.EngineNow,
		Differences: mapped(again.Differences, func(d quote.Difference) openapi.Difference {
			return openapi.Difference{At: d.At, Says: d.Says, Before: d.Before, After: d.After}
		}),
	}
	return answer(c, http.StatusOK, out)
}
