package api

import (
	"errors"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/store"
	"wainscot/bom/options"
	"wainscot/openapi"
	"wainscot/pricing/quote"
)

// createQuote works a quote out and keeps it as a draft.
func (s *Server) createQuote(c *gin.Context) error {
	asked, err := decode[openapi.QuoteContent](c)
	if err != nil {
		return err
	}
	w, err := s.workOut(c, question{asked.Vans[0].Van, asked.Vans[0].Choices, asked.Terms, asked.Vans[0].Settle})
	if err != nil {
		return err
	}
	if err := fitTogether(w); err != nil {
		return err
	}
	if refusal := w.priced.Refusal; refusal != nil {
		told := contractRefusal(refusal, principal(c).Role)
		field := "/terms/discount_percent"
		if w.terms.DiscountAmount != nil {
			field = "/terms/discount_amount"
		}
		return &problem{
			code: openapi.ProblemCodeTermsRefused, detail: "The discount cannot be given.", remedy: "Ask for less, or leave it out.",
			errors: []openapi.FieldError{{Field: field, Code: string(told.Code), Reason: told.Says, Remedy: "Ask for less, or leave it out."}},
		}
	}
	document := w.document()
	text, err := document.Encode()
	if err != nil {
		return err
	}
	total := w.priced.Totals.Gross
	content := store.QuoteContent{
		BaseVan: w.van.BaseVan, Registration: w.van.Registration,
		Release: w.offer.number, Edition: w.offer.book.Edition().Code,
		TotalMinor: total.Minor(), Currency: string(total.Currency()), Hours: w.sheet.Hours,
		Document: store.Pack(text), // outside the transaction: others wait for it
	}
	var kept store.Quote
	err = s.store.As(principal(c)).Write(c.Request.Context(), func(tx store.WriteTx) (err error) {
		kept, err = tx.CreateQuote(content)
		return err
	})
	if err != nil {
		return err
	}
	c.Header("Location", "/v1/quotes/"+kept.ID.String())
	return answer(c, http.StatusCreated, contractQuoteKept(kept.QuoteEntry, document, principal(c).Role))
}

// fitTogether refuses choices of which some had to be put aside: what is kept
// as a quote is what the customer will be told they have.
func fitTogether(w *worked) error {
	aside := w.resolution.Answer.PutAside
	if len(aside) == 0 {
		return nil
	}
	told := optionsTeller{model: w.model, resolution: &w.resolution}
	p := &problem{
		code:   openapi.ProblemCodeChoicesRefused,
		detail: "Some choices do not fit with those before them.",
		remedy: "Leave out one side of each conflict; /v1/resolve shows what each option stands against.",
	}
	for _, a := range aside {
		said := w.resolution.Said[a.Choice]
		p.errors = append(p.errors, openapi.FieldError{
			Field: saidField(w, said), Code: "does_not_fit",
			Reason: told.choiceWords(said) + " does not fit. " + told.reason(a.Why).Says,
			Remedy: "Leave it out, or what it conflicts with.",
		})
	}
	return p
}

// saidField is the field of the request a choice of the engine came from.
func saidField(w *worked, said options.Choice) string {
	at := func(list string, i int) string {
		if i < 0 {
			return list
		}
		return list + "/" + strconv.Itoa(i)
	}
	switch said.Source {
	case options.FromPackage:
		return "/choices/package"
	case options.FromFitted:
		return at("/van/fitted", slices.IndexFunc(w.van.Fitted, named(said.Feature)))
	case options.FromVan:
		name := strings.TrimPrefix(said.Feature, "van.")
		return at("/van/particulars", slices.IndexFunc(w.van.Particulars, particularNamed(name)))
	case options.FromCustomer, options.FromSettling:
	}
	if finish, ok := strings.CutPrefix(said.Feature, "finish."); ok && said.Verb == options.Pick {
		return at("/choices/finishes", slices.IndexFunc(w.choices.Finishes, finishNamed(finish)))
	}
	return at("/choices/features", slices.IndexFunc(w.choices.Features, choiceOf(said.Feature)))
}

// document is what is kept of a quote.
func (w *worked) document() *quote.Document {
	return &quote.Document{
		Release: quote.Release{Number: w.offer.number, Hash: w.offer.release.Hash(), Title: w.offer.release.Catalogue().Title},
		Edition: quote.Edition{Code: w.offer.book.Edition().Code, Hash: w.offer.book.Hash()},
		Engine:  options.Engine,
		Asked: quote.Asked{Format: quote.AskedFormat, Terms: w.terms,
			Vans: []quote.AskedVan{{Facts: w.van, Choices: w.choices, Settle: w.settle}}},
		Vans: []quote.Van{{Specification: w.resolution.Specification, Sheet: w.sheet, Priced: w.priced, NotReady: w.notReady}},
	}
}

// getQuote gives one quote as it was kept.
func (s *Server) getQuote(c *gin.Context) error {
	id, err := uuid.Parse(c.Param("id"))
	if err != nil {
		return notFound("quote")
	}
	var kept store.Quote
	err = s.store.As(principal(c)).Read(c.Request.Context(), func(tx store.ReadTx) (err error) {
		kept, err = tx.Quote(id)
		return err
	})
	if errors.Is(err, store.ErrNotFound) {
		return notFound("quote")
	}
	if err != nil {
		return err
	}
	text, err := kept.Document.Unpack()
	if err != nil {
		return err
	}
	document, err := quote.Decode(text)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, contractQuote(kept.QuoteEntry, document, principal(c).Role))
}

// Pages of quotes, as the contract has them.
const (
	defaultQuotesPage = 25
	maxQuotesPage     = 100
)

// listQuotes gives a page of quotes, the newest first.
func (s *Server) listQuotes(c *gin.Context) error {
	filter := store.QuoteFilter{Registration: c.Query("registration"), Limit: defaultQuotesPage}
	if text := c.Query("limit"); text != "" {
		n, err := strconv.Atoi(text)
		if err != nil || n < 1 || n > maxQuotesPage {
			return brokenField("query/limit", "not_allowed", "It is not a whole number from 1 to 100.", "Write it in digits.")
		}
		filter.Limit = n
	}
	// A registration that is all spaces would list every quote.
	if filter.Registration != "" && store.PlainRegistration(filter.Registration) == "" {
		return brokenField("query/registration", "not_allowed", "It has no letter and no digit.", "Write it as on the plate.")
	}
	question := "quotes of " + store.PlainRegistration(filter.Registration)
	if cursor := c.Query("cursor"); cursor != "" {
		after, ok := s.quotesAfter(c, question, cursor)
		if !ok {
			return brokenField("query/cursor", "not_allowed", "It is not a cursor of this server for this list.", "Begin again without one.")
		}
		filter.After = after
	}
	var list []store.QuoteEntry
	var next *store.QuoteCursor
	err := s.store.As(principal(c)).Read(c.Request.Context(), func(tx store.ReadTx) (err error) {
		list, next, err = tx.Quotes(filter)
		return err
	})
	if err != nil {
		return err
	}
	role := principal(c).Role
	page := openapi.Quotes{Quotes: make([]openapi.QuoteSummary, len(list))}
	for i, e := range list {
		page.Quotes[i] = contractQuoteSummary(e, role)
	}
	if next != nil {
		position := strconv.FormatInt(next.CreatedAt.UnixMicro(), 10) + " " + next.ID.String()
		page.Next = s.writeCursor(principal(c), question, position)
	}
	return answer(c, http.StatusOK, page)
}

// quotesAfter reads where a list of quotes goes on.
func (s *Server) quotesAfter(c *gin.Context, question, cursor string) (*store.QuoteCursor, bool) {
	position, ok := s.readCursor(principal(c), question, cursor)
	if !ok {
		return nil, false
	}
	micros, id, _ := strings.Cut(position, " ")
	at, err := strconv.ParseInt(micros, 10, 64)
	if err != nil {
		return nil, false
	}
	last, err := uuid.Parse(id)
	if err != nil {
		return nil, false
	}
	return &store.QuoteCursor{CreatedAt: time.UnixMicro(at).UTC(), ID: last}, true
}
