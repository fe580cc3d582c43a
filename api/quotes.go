package api

import (
	"errors"
	"net/http"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/store"
	"wainscot/openapi"
	"wainscot/pricing/money"
	"wainscot/pricing/quote"
)

// createQuote works a quote out and keeps it as a draft.
func (s *Server) createQuote(c *gin.Context) error {
	w, content, err := s.draft(c, uuid.Nil, nil)
	if err != nil {
		return err
	}
	return s.keepDraft(c, w, content, http.StatusCreated, func(tx store.WriteTx) (store.QuoteEntry, error) {
		return tx.CreateQuote(content)
	})
}

// changeQuote puts what is asked now in the place of what a draft asked.
func (s *Server) changeQuote(c *gin.Context) error {
	id, version, err := pathVersion(c, "quote")
	if err != nil {
		return err
	}
	before, err := s.contentBefore(c, id, version, mayBeChanged)
	if err != nil {
		return err
	}
	w, content, err := s.draft(c, id, before)
	if err != nil {
		return err
	}
	return s.keepDraft(c, w, content, http.StatusOK, func(tx store.WriteTx) (store.QuoteEntry, error) {
		return tx.ChangeQuote(id, version, content)
	})
}

// keepDraft writes a draft, answers with it, and has it at hand for when it is
// issued.
func (s *Server) keepDraft(c *gin.Context, w *workedQuote, content store.QuoteContent, status int, write func(store.WriteTx) (store.QuoteEntry, error)) error {
	var head store.QuoteEntry
	err := s.keep(c, func(tx store.WriteTx) (_ reply, err error) {
		if head, err = write(tx); err != nil {
			return reply{}, err
		}
		return keptReply(c, status, w.shown(head)), nil
	})
	if err == nil {
		s.drafts.remember(principal(c), head, content.Asked)
	}
	return err
}

// draft reads a quote's content from the request, works it out, and makes of it
// what the store keeps. before is what the draft asked until now.
func (s *Server) draft(c *gin.Context, id uuid.UUID, before *quote.Asked) (*workedQuote, store.QuoteContent, error) {
	var content store.QuoteContent
	sent, err := decode[openapi.QuoteContent](c)
	if err != nil {
		return nil, content, err
	}
	n, err := needsOf(sent)
	if err != nil {
		return nil, content, err
	}
	n.quote = id
	var from *source
	err = s.readTx(c, func(tx store.ReadTx) (err error) {
		from, err = s.lookUp(tx, n)
		return err
	})
	if err != nil {
		return nil, content, err
	}
	if before, err = s.stillAsked(c, from, before); err != nil {
		return nil, content, err
	}
	role := principal(c).Role
	asked, err := askedOf(sent, n, from, role, money.Currency(from.edition.Currency), before)
	if err != nil {
		return nil, content, err
	}
	w, err := s.work(c, from, asked.asked, true)
	if err == nil {
		err = w.mayBeKept(role)
	}
	if err != nil {
		return nil, content, err
	}
	content, err = w.keepable(asked.keep)
	return w, content, err
}

// contentBefore is what a quote that is to be changed asks for until now, if its
// state allows the change; nil where that was kept in a form this program does
// not read.
func (s *Server) contentBefore(c *gin.Context, id uuid.UUID, version int64, allowed func(store.QuoteState) error) (*quote.Asked, error) {
	var revision store.Revision
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		var head store.QuoteEntry
		if head, revision, err = tx.Latest(id); err != nil {
			return notFoundIs(err, "quote")
		}
		if head.Version != version {
			return store.ErrStale
		}
		return allowed(head.State)
	})
	if err != nil {
		return nil, err
	}
	asked, err := askedBefore(&revision)
	if _, unread := errors.AsType[*problem](err); unread {
		return nil, nil //nolint:nilnil // what it asked for is not known any more
	}
	return asked, err
}

func mayBeChanged(state store.QuoteState) error {
	if state != store.Draft {
		return notDraft(state)
	}
	return nil
}

func notDraft(state store.QuoteState) *problem {
	p := &problem{code: openapi.ProblemCodeStateConflict, detail: "The quote is " + string(state) + " and does not change any more.", remedy: "Begin a revision and change that."}
	if state == store.Accepted {
		p.remedy = "What has been accepted changes only by a change to the job."
	}
	return p
}

// askedBefore reads what a draft asks for.
func askedBefore(r *store.Revision) (*quote.Asked, error) {
	text, err := r.Asked.Unpack()
	if err != nil {
		return nil, err
	}
	asked, err := quote.DecodeAsked(text)
	if err != nil {
		return nil, &problem{
			code:   openapi.ProblemCodeStateConflict,
			detail: "What this draft asks for was kept in a form that is not read any more.",
			remedy: "Say again what is asked for: change the draft.",
		}
	}
	return asked, nil
}

// shown is a draft that has just been kept.
func (w *workedQuote) shown(head store.QuoteEntry) *shownQuote {
	return &shownQuote{
		head: head, vans: head.Vans, document: w.seen(), today: w.source.today,
		revision: store.RevisionEntry{Quote: head.ID, Number: head.Revision, State: store.Draft},
	}
}

// keptReply answers with what a quote is after a change.
func keptReply(c *gin.Context, status int, q *shownQuote) reply {
	r := reply{status: status, version: q.head.Version, body: q.kept(principal(c).Role)}
	if status == http.StatusCreated {
		r.location = "/v1/quotes/" + q.head.ID.String()
	}
	return r
}

// getQuote gives a quote's latest revision: a draft as of now, another as it
// was frozen.
func (s *Server) getQuote(c *gin.Context) error {
	id, err := pathID(c, "quote")
	if err != nil {
		return err
	}
	q, err := s.show(c, id, 0)
	if err != nil {
		return err
	}
	body := q.contract(principal(c).Role, partsOf(c))
	if q.settled() {
		return answerVersion(c, http.StatusOK, q.head.Version, body)
	}
	return answerOfTheDay(c, http.StatusOK, q.head.Version, body)
}

// settled says whether what is shown follows from the quote's version alone. A
// draft follows the day and what is published, an offer lapses, and a van that
// the workshop keeps may get another registration.
func (q *shownQuote) settled() bool {
	if q.revision.State == store.Draft || q.revision.State == store.Issued {
		return false
	}
	for _, v := range q.vans {
		if v.Van != uuid.Nil {
			return false
		}
	}
	return true
}

// partsOf are the longer parts a request asks for.
func partsOf(c *gin.Context) parts {
	list, asked := c.GetQuery("include")
	if !asked {
		return parts{true, true, true}
	}
	with := func(name string) bool {
		for part := range strings.SplitSeq(list, ",") {
			if part == name {
				return true
			}
		}
		return false
	}
	return parts{with("specification"), with("sheet"), with("price")}
}

// show gives a revision of a quote to be shown; number 0 is the latest.
func (s *Server) show(c *gin.Context, id uuid.UUID, number int64) (*shownQuote, error) {
	q := &shownQuote{}
	var revision store.Revision
	var asked *quote.Asked
	var from *source
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		if number == 0 {
			q.head, revision, err = tx.Latest(id)
		} else if q.head, err = tx.Quote(id); err == nil {
			revision, err = tx.Revision(id, number)
		}
		if err != nil {
			return err
		}
		if revision.State != store.Draft {
			q.today, err = dayOf(tx)
			return err
		}
		if asked, err = askedBefore(&revision); err != nil {
			return err
		}
		from, err = s.lookUp(tx, draftNeeds(id, revision.Number, asked))
		return err
	})
	if err != nil {
		return nil, notFoundIs(err, "quote or revision")
	}
	q.revision, q.vans = revision.RevisionEntry, revision.Vans
	if asked == nil {
		text, err := revision.Document.Unpack()
		if err != nil {
			return nil, err
		}
		q.document, err = quote.Decode(text)
		return q, err
	}
	w, err := s.workDraft(c, from, asked)
	if err != nil {
		return nil, err
	}
	q.document, q.today = w.seen(), from.today
	return q, nil
}

// draftNeeds is what a draft that is kept must be worked out from. Whom it is
// for does not matter any more: their terms are in it. Before the first revision
// nothing was offered that could hold.
func draftNeeds(id uuid.UUID, revision int64, asked *quote.Asked) needs {
	n := needs{day: asked.Terms.Day}
	if revision > 1 {
		n.quote = id
	}
	for _, v := range asked.Vans {
		van, err := uuid.Parse(v.Van)
		if err != nil {
			van = uuid.Nil // it has none
		}
		n.vans = append(n.vans, van)
	}
	return n
}

// workDraft works a draft that is kept out as of now, with what is known of its
// vans now. That it does not fit today's catalogue is a conflict: it was fine
// when it was kept.
func (s *Server) workDraft(c *gin.Context, from *source, asked *quote.Asked) (*workedQuote, error) {
	w, err := s.work(c, from, withVansNow(asked, from.vans), false)
	var p *problem
	if errors.As(err, &p) && (p.code == openapi.ProblemCodeChoicesRefused || p.code == openapi.ProblemCodeTermsRefused) {
		return nil, &problem{
			code: openapi.ProblemCodeStateConflict, errors: p.errors,
			detail: "What is asked for is not of what the workshop offers today.",
			remedy: unfitRemedy,
		}
	}
	return w, err
}

// withVansNow is what is asked with what is known of its vans now.
func withVansNow(asked *quote.Asked, vans map[uuid.UUID]store.Van) quote.Asked {
	now := *asked
	now.Vans = append([]quote.AskedVan{}, asked.Vans...)
	for i := range now.Vans {
		id, err := uuid.Parse(now.Vans[i].Van)
		if err != nil {
			continue
		}
		now.Vans[i].Facts = vans[id].Facts
		now.Vans[i].Facts.Registration, now.Vans[i].Facts.VIN = "", ""
	}
	return now
}

// unfitRemedy leads out both of a draft and of what was issued: errors has the
// fields of that content.
const unfitRemedy = "Read …/content, mend the fields named in errors, and send it: PUT for a draft, POST …/revisions to begin a revision with it."

// followUpQuote sets when to ask again.
func (s *Server) followUpQuote(c *gin.Context) error {
	id, version, err := pathVersion(c, "quote")
	if err != nil {
		return err
	}
	sent, err := decode[openapi.FollowUp](c)
	if err != nil {
		return err
	}
	q, err := s.show(c, id, 0)
	if err != nil {
		return err
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		head, err := tx.FollowUpQuote(id, version, sent.FollowUpOn, sent.Note)
		if err != nil {
			return reply{}, err
		}
		return keptReply(c, http.StatusOK, q.after(head, q.revision.State)), nil
	})
}

// after is the same revision after a change of its quote.
func (q *shownQuote) after(head store.QuoteEntry, state store.QuoteState) *shownQuote {
	now := *q
	now.head, now.revision.State = head, state
	return &now
}

// listQuotes gives a page of quotes, the newest first.
func (s *Server) listQuotes(c *gin.Context) error {
	filter := store.QuoteFilter{Registration: c.Query("registration"), Customer: askedID(c.Query("customer")), State: store.QuoteState(c.Query("state"))}
	if number, err := strconv.ParseInt(c.Query("number"), 10, 64); err == nil {
		filter.Number = number
	}
	if filter.Registration != "" && store.PlainRegistration(filter.Registration) == "" {
		return brokenField("query/registration", "not_allowed", "It has no letter and no digit.", "Write it as on the plate.")
	}
	question := strings.Join([]string{"quotes of", store.PlainRegistration(filter.Registration), idText(filter.Customer),
		string(filter.State), strconv.FormatInt(filter.Number, 10)}, " ")
	if filter.State == store.Superseded { // only a revision is
		return answer(c, http.StatusOK, openapi.Quotes{Quotes: []openapi.QuoteSummary{}})
	}
	var names map[uuid.UUID]string
	list, next, err := newestFirst(s, c, question, func(tx store.ReadTx, after *store.Place, limit int) (list []store.QuoteEntry, next *store.Place, err error) {
		filter.After, filter.Limit = after, limit
		if filter.Today, err = dayOf(tx); err != nil {
			return nil, nil, err
		}
		if list, next, err = tx.Quotes(filter); err == nil {
			names, err = customerNames(c, tx, list)
		}
		return list, next, err
	})
	if err != nil {
		return err
	}
	role := principal(c).Role
	page := openapi.Quotes{Quotes: make([]openapi.QuoteSummary, len(list)), Next: next}
	for i := range list {
		page.Quotes[i] = contractQuoteSummary(&list[i], filter.Today, names[list[i].Customer], role)
	}
	return answer(c, http.StatusOK, page)
}

// customerNames are the names of those the quotes are for, for who may read
// customers.
func customerNames(c *gin.Context, tx store.ReadTx, list []store.QuoteEntry) (map[uuid.UUID]string, error) {
	names := map[uuid.UUID]string{}
	if !seesPeople(principal(c).Role) {
		return names, nil
	}
	var ids []uuid.UUID
	for _, e := range list {
		if e.Customer != uuid.Nil {
			ids = append(ids, e.Customer)
		}
	}
	entries, err := tx.CustomerEntries(ids)
	for id, e := range entries {
		names[id] = fullName(e)
	}
	return names, err
}
