package api

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/bom"
	"wainscot/bom/calendar"
	"wainscot/bom/document"
	"wainscot/bom/options"
	"wainscot/openapi"
	"wainscot/pricing/pricebook"
	"wainscot/pricing/quote"
)

// What a quote is worked out from, and the working out.

// needs is what a quote names that must be looked up.
type needs struct {
	customer, endCustomer, enquiry uuid.UUID
	vans                           []uuid.UUID
	day                            string    // "" is today
	quote                          uuid.UUID // whose issued revision may hold prices; uuid.Nil for none
}

// source is all of that as it was at one moment.
type source struct {
	ground
	customer *store.Customer
	vans     map[uuid.UUID]store.Van
	held     *store.Revision
}

// lookUp reads what a quote needs. What is not there, or has been erased, is a
// fault of the field that names it.
func (s *Server) lookUp(tx store.ReadTx, n needs) (*source, error) {
	g, err := s.groundOn(tx, n.day)
	if err != nil {
		return nil, err
	}
	from := &source{ground: g}
	kept := slices.DeleteFunc(slices.Clone(n.vans), func(id uuid.UUID) bool { return id == uuid.Nil }) // the others are described
	if from.vans, err = tx.VansByID(kept); err != nil {
		return nil, err
	}
	if n.quote != uuid.Nil {
		switch held, err := tx.Offered(n.quote); {
		case err == nil && held.ValidUntil >= g.day:
			from.held = &held
		case err != nil && !errors.Is(err, store.ErrNotFound):
			return nil, err
		}
	}
	return from, from.people(tx, n)
}

func (s *source) people(tx store.ReadTx, n needs) error {
	// What has been erased was once here: alone, that is a conflict.
	p := &problem{code: openapi.ProblemCodeStateConflict, detail: "The quote names what is not there.", remedy: "Mend the fields named in errors."}
	missing := func(field, what string, err error) error {
		switch {
		case errors.Is(err, store.ErrErased):
			p.errors = append(p.errors, openapi.FieldError{Field: field, Code: "erased", Reason: "That " + what + " has been erased.", Remedy: "Name another."})
		case errors.Is(err, store.ErrNotFound):
			unknown := unknownReference(field, what)
			p.code, p.errors = unknown.code, append(p.errors, unknown.errors...)
		default:
			return err
		}
		return nil
	}
	if n.customer != uuid.Nil {
		c, err := tx.StandingCustomer(n.customer)
		if err = missing("/customer", "customer", err); err != nil {
			return err
		}
		s.customer = &c
	}
	if n.endCustomer != uuid.Nil {
		_, err := tx.StandingCustomer(n.endCustomer)
		if err = missing("/end_customer", "customer", err); err != nil {
			return err
		}
	}
	if n.enquiry != uuid.Nil {
		_, err := tx.Enquiry(n.enquiry)
		if err = missing("/enquiry", "enquiry", err); err != nil {
			return err
		}
	}
	for i, id := range n.vans {
		if _, ok := s.vans[id]; id != uuid.Nil && !ok {
			if err := missing("/vans/"+strconv.Itoa(i)+"/van_id", "van", store.ErrNotFound); err != nil {
				return err
			}
		}
	}
	if len(p.errors) > 0 {
		return p
	}
	return nil
}

// workedQuote is a quote worked out, and what is needed to keep it.
type workedQuote struct {
	quote.Worked
	source *source
	// kept is what was asked, as a draft keeps it: the day left open where it
	// was.
	kept quote.Asked
	// held is the revision whose prices hold; nil for none.
	held *quote.Document
}

// work works out what is asked for, in numbers alone if nobody will see more of
// it. Faults of it are a problem.
func (s *Server) work(c *gin.Context, from *source, asked quote.Asked, numbersAlone bool) (*workedQuote, error) {
	w := &workedQuote{source: from, kept: asked}
	o, err := s.quoteOffer(c, from)
	if err != nil {
		return nil, err
	}
	o.NumbersAlone = numbersAlone
	if from.held != nil {
		if err := s.hold(c, &o, from.held); err != nil {
			return nil, err
		}
		w.held = o.Held
	}
	if asked.Terms.Day == "" {
		asked.Terms.Day = from.today
	}
	if asked.Terms.ValidUntil == "" {
		if asked.Terms.ValidUntil, err = calendar.Add(from.today, from.settings.ValidDays); err != nil {
			return nil, err
		}
	}
	var faults document.Faults
	if w.Worked, faults, err = quote.Work(o, asked); err != nil {
		return nil, engineProblem(err)
	}
	if len(faults) > 0 {
		return nil, askedRefused(faults)
	}
	return w, nil
}

// quoteOffer makes ready what the workshop offers.
func (s *Server) quoteOffer(c *gin.Context, from *source) (quote.Offer, error) {
	o := quote.Offer{Number: from.release.Number, Days: from.working, Room: roomOf(c)}
	var err error
	if o.Release, err = s.release(c, from.release); err != nil {
		return o, err
	}
	o.Book, err = s.edition(c, o.Release, from.edition)
	return o, err
}

// hold puts an earlier revision's prices into an offer.
func (s *Server) hold(c *gin.Context, o *quote.Offer, r *store.Revision) error {
	var err error
	if o.Held, err = documentOf(r); err != nil {
		return err
	}
	o.HeldBooks, err = s.heldBooks(c, o.Release, o.Held)
	return err
}

// heldBooks are the editions that the lines of a document are from, made ready
// against a release. One that does not fit it is left out: today's edition is
// asked instead.
func (s *Server) heldBooks(c *gin.Context, r *bom.Release, d *quote.Document) ([]*pricebook.Compiled, error) {
	codes := []string{d.Edition.Code}
	for i := range d.Vans {
		for _, l := range d.Vans[i].Priced.Lines {
			if l.Edition != "" && !slices.Contains(codes, l.Edition) {
				codes = append(codes, l.Edition)
			}
		}
	}
	var books []*pricebook.Compiled
	for _, code := range codes {
		book, err := s.editionByCode(c, r, code)
		if _, unfit := errors.AsType[*problem](err); unfit {
			continue
		}
		if err != nil {
			return nil, err
		}
		books = append(books, book)
	}
	return books, nil
}

func (s *Server) editionByCode(c *gin.Context, r *bom.Release, code string) (*pricebook.Compiled, error) {
	var entry store.EditionEntry
	err := s.readTx(c, func(tx store.ReadTx) error {
		found, err := tx.Edition(code)
		entry = found.EditionEntry
		return err
	})
	if err != nil {
		return nil, err
	}
	return s.edition(c, r, entry)
}

// offerOf is the offer a document was worked out with: its release, its
// edition, and the revision whose prices it holds.
func (s *Server) offerOf(c *gin.Context, d *quote.Document) (quote.Offer, error) {
	var from source
	var held *store.Revision
	err := s.readTx(c, func(tx store.ReadTx) error {
		var err error
		if from.release, err = releaseEntry(tx, d.Release.Number); err != nil {
			return err
		}
		edition, err := tx.Edition(d.Edition.Code)
		if err != nil {
			return err
		}
		from.edition = edition.EditionEntry
		if from.working, err = workingDays(tx); err != nil {
			return err
		}
		if d.HeldRevision == 0 {
			return nil
		}
		id, err := uuid.Parse(d.Quote)
		if err != nil {
			return fmt.Errorf("a document's quote: %w", err)
		}
		found, err := tx.Revision(id, int64(d.HeldRevision))
		held = &found
		return err
	})
	if err != nil {
		return quote.Offer{}, err
	}
	o, err := s.quoteOffer(c, &from)
	if err == nil && held != nil {
		err = s.hold(c, &o, held)
	}
	return o, err
}

// mayBeKept refuses what a draft may not be: choices of which some had to be
// put aside, and a discount that cannot be given.
func (w *workedQuote) mayBeKept(r auth.Role) error {
	if err := fitTogether(&w.Worked); err != nil {
		return err
	}
	for i := range w.Vans {
		refusal := w.Vans[i].Priced.Refusal
		if refusal == nil {
			continue
		}
		field := "/terms/discount_percent"
		if w.Asked.Terms.DiscountAmount != nil {
			field = "/terms/discount_amount"
		}
		told := contractRefusal(refusal, r)
		const remedy = "Ask for less, or leave it out."
		return &problem{
			code: openapi.ProblemCodeTermsRefused, detail: "The discount cannot be given.", remedy: remedy,
			errors: []openapi.FieldError{{Field: field, Code: string(told.Code), Reason: told.Says, Remedy: remedy}},
		}
	}
	return nil
}

// fitTogether refuses choices of which some had to be put aside: what is kept
// as a quote is what the customer will be told they have.
func fitTogether(w *quote.Worked) error {
	list, err := putAside(w)
	if err != nil || len(list) == 0 {
		return err
	}
	return &problem{
		code:   openapi.ProblemCodeChoicesRefused,
		detail: "Some choices do not fit with those before them.",
		remedy: "Leave out one side of each conflict; /v1/conflicts tells each of them whole, /v1/ways-out what to change.",
		errors: list,
	}
}

// putAside names every choice that had to be put aside, with what it conflicts
// with.
func putAside(w *quote.Worked) (list []openapi.FieldError, err error) {
	for i := range w.Vans {
		v := &w.Vans[i]
		if len(v.Resolution.Answer.PutAside) == 0 {
			continue
		}
		m, err := model(w.Offer.Release, w.Asked.Vans[i].Facts.BaseVan)
		if err != nil {
			return nil, err
		}
		told := optionsTeller{model: m, resolution: &v.Resolution}
		for _, a := range v.Resolution.Answer.PutAside {
			said := v.Resolution.Said[a.Choice]
			list = append(list, openapi.FieldError{
				Field: "/vans/" + strconv.Itoa(i) + saidField(&w.Asked.Vans[i], said), Code: "does_not_fit",
				Reason: told.choiceWords(said) + " does not fit. " + told.reason(a.Why).Says,
				Remedy: "Leave it out, or what it conflicts with.",
			})
		}
	}
	return list, nil
}

// saidField is the field of a van of the request that a choice of the engine
// came from.
func saidField(v *quote.AskedVan, said options.Choice) string {
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
		return at("/van/fitted", slices.IndexFunc(v.Facts.Fitted, named(said.Feature)))
	case options.FromVan:
		name := strings.TrimPrefix(said.Feature, "van.")
		return at("/van/particulars", slices.IndexFunc(v.Facts.Particulars, particularNamed(name)))
	case options.FromCustomer, options.FromSettling:
	}
	if finish, ok := strings.CutPrefix(said.Feature, "finish."); ok && said.Verb == options.Pick {
		return at("/choices/finishes", slices.IndexFunc(v.Choices.Finishes, finishNamed(finish)))
	}
	return at("/choices/features", slices.IndexFunc(v.Choices.Features, choiceOf(said.Feature)))
}

// What finds a member of a list of the request by its name.

func named(feature string) func(bom.FittedItem) bool {
	return func(f bom.FittedItem) bool { return f.Feature == feature }
}

func particularNamed(name string) func(bom.ParticularValue) bool {
	return func(p bom.ParticularValue) bool { return p.Name == name }
}

func finishNamed(finish string) func(bom.FinishChoice) bool {
	return func(f bom.FinishChoice) bool { return f.Finish == finish }
}

func choiceOf(feature string) func(bom.Choice) bool {
	return func(c bom.Choice) bool { return c.Want == feature || c.Refuse == feature }
}

// keepable is the draft as the store keeps it. Packing is done here, outside
// the transaction.
func (w *workedQuote) keepable(content store.QuoteContent) (store.QuoteContent, error) {
	text, err := w.kept.Encode()
	if err != nil {
		return content, err
	}
	content.Asked = store.Pack(text)
	content.Worked = w.columns()
	return content, nil
}

// columns are what a revision is listed by.
func (w *workedQuote) columns() store.Worked {
	total := w.Totals.Gross
	k := store.Worked{
		Release: w.Offer.Number, Edition: w.Offer.Book.Edition().Code,
		TotalMinor: total.Minor(), Currency: string(total.Currency()), Hours: hoursOf(w.seen().Vans),
	}
	if w.held != nil {
		k.HeldEdition = w.held.Edition.Code
	}
	return k
}

// seen is the draft as a document: never kept, for showing and printing only.
func (w *workedQuote) seen() *quote.Document {
	o := &w.Offer
	d := &quote.Document{
		ValidUntil: w.Asked.Terms.ValidUntil,
		Release:    quote.Release{Number: o.Number, Hash: o.Release.Hash(), Title: o.Release.Catalogue().Title},
		Edition:    quote.Edition{Code: o.Book.Edition().Code, Hash: o.Book.Hash()},
		Engine:     options.Engine,
		Asked:      w.Asked, Totals: w.Totals, Payments: w.Payments,
		Vans: make([]quote.Van, len(w.Vans)),
	}
	for i := range w.Vans {
		d.Vans[i] = w.Vans[i].Van
	}
	if w.held != nil {
		held := w.held.Edition
		d.Held, d.HeldRevision = &held, w.held.Revision
	}
	return d
}
