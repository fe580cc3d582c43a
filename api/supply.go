package api

import (
	"errors"
	"fmt"
	"net/http"
	"slices"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"
	"github.com/shopspring/decimal"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/bom"
	"wainscot/bom/calendar"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/bom/schedule"
	"wainscot/bom/supply"
	"wainscot/openapi"
	"wainscot/pricing/job"
	"wainscot/pricing/order"
)

// supplyRoutes are those of what is wanted, in stock and ordered.
func supplyRoutes() []route {
	readers := []auth.Role{auth.Owner, auth.Workshop, auth.Books}
	actors := []auth.Role{auth.Owner, auth.Workshop}
	return []route{
		{http.MethodGet, "/v1/wanted", readers, (*Server).listWanted},
		{http.MethodGet, "/v1/wanted.csv", readers, (*Server).getWantedCSV},
		{http.MethodGet, "/v1/wanted.xlsx", readers, (*Server).getWantedXLSX},
		{http.MethodGet, "/v1/proposals", readers, (*Server).listProposals},
		{http.MethodGet, "/v1/stock", readers, (*Server).listStock},
		{http.MethodGet, "/v1/stock/:part", readers, (*Server).getStock},
		{http.MethodGet, "/v1/stock/:part/movements", readers, (*Server).listStockMovements},
		{http.MethodPost, "/v1/stock/:part/movements", actors, (*Server).moveStock},
		{http.MethodPost, "/v1/stock/:part/kept", actors, (*Server).keepStock},
		{http.MethodPost, "/v1/stock/:part/bin", actors, (*Server).setBin},
		{http.MethodGet, "/v1/stock/:part/fit", readers, (*Server).getFit},
		{http.MethodGet, "/v1/orders", readers, (*Server).listOrders},
		{http.MethodPost, "/v1/orders", actors, (*Server).addOrder},
		{http.MethodGet, "/v1/orders/:id", readers, (*Server).getOrder},
		{http.MethodPut, "/v1/orders/:id", actors, (*Server).changeOrder},
		{http.MethodPost, "/v1/orders/:id/place", actors, (*Server).placeOrder},
		{http.MethodPost, "/v1/orders/:id/deliveries", actors, (*Server).deliverOrder},
		{http.MethodPost, "/v1/orders/:id/expected", actors, (*Server).expectOrder},
		{http.MethodPost, "/v1/orders/:id/cancel", actors, (*Server).cancelOrder},
		{http.MethodPost, "/v1/orders/:id/close", actors, (*Server).closeOrder},
		{http.MethodGet, "/v1/orders/:id/hits", readers, (*Server).listHits},
		{http.MethodGet, "/v1/orders/:id/order.csv", readers, (*Server).getOrderCSV},
		{http.MethodGet, "/v1/orders/:id/order.xlsx", readers, (*Server).getOrderXLSX},
		{http.MethodGet, "/v1/orders/:id/order.pdf", readers, (*Server).getOrderPDF},
		{http.MethodGet, "/v1/substitutes", readers, (*Server).listSubstitutes},
		{http.MethodPost, "/v1/substitutes", actors, (*Server).addSubstitute},
		{http.MethodGet, "/v1/substitutes/:id", readers, (*Server).getSubstitute},
		{http.MethodPost, "/v1/substitutes/:id/answer", actors, (*Server).answerSubstitute},
		{http.MethodPost, "/v1/substitutes/:id/end", actors, (*Server).endSubstitute},
	}
}

// Limits of what is told at once, and how far ahead is looked.
const (
	maxWanted     = 5_000
	wantedDays    = 14 // told, where nobody says
	orderByDays   = 5  // working days, likewise
	slotDaysBack  = 366
	slotDaysOn    = 1_100
	maxNeedsBytes = 32 << 20 // of wants held, at some 200 bytes a line
	wantBytes     = 200
)

// jobNeeds is what a job wants, without days, at one version of it.
type jobNeeds struct {
	needs   supply.Needs
	release int64
	done    []string // stages that want nothing any more
	used    []job.PastPart
}

// floorNeeds are a booked job's wants on the days of its slot.
type floorNeeds struct {
	job    store.JobEntry
	needs  supply.Needs
	slot   bool
	issued []store.StockMovement
	used   []job.PastPart // by its board
	done   []string       // stages
}

// supplies is how things stand in a workshop now.
type supplies struct {
	offer    offer
	today    string
	working  calendar.Calendar
	jobs     map[string]*floorNeeds // by id
	order    []string               // of the jobs, by number
	wants    []supply.Want
	position supply.Position
	plan     supply.Plan
	orders   []store.Order
	contents []*order.Order
	stock    []store.Stock
	bins     []store.Bin
}

// suppliesNow gathers what is wanted, in stock and due, and nets it.
func (s *Server) suppliesNow(c *gin.Context) (*supplies, error) {
	o, err := s.pricedOffer(c, "")
	if err != nil {
		return nil, err
	}
	n := &supplies{offer: o, today: o.day, jobs: map[string]*floorNeeds{}}
	var substitutes []supply.Substitute
	var slots map[uuid.UUID]schedule.Slot
	err = s.readTx(c, func(tx store.ReadTx) (err error) {
		floor, err := tx.Floor()
		if err != nil {
			return err
		}
		n.working = floor.Content.Calendar
		if slots, err = slotsAround(tx, n.today); err != nil {
			return err
		}
		if n.orders, err = tx.StandingOrders(); err != nil {
			return err
		}
		if n.stock, err = tx.AllStock(); err != nil {
			return err
		}
		if n.bins, err = tx.Bins(); err != nil {
			return err
		}
		if substitutes, err = tx.AgreedSubstitutes(); err != nil {
			return err
		}
		return n.readJobs(tx)
	})
	if err != nil {
		return nil, err
	}
	for _, id := range n.order {
		if err := s.needsOf(c, n, n.jobs[id], slots, substitutes); err != nil {
			return nil, err
		}
	}
	return n, n.net()
}

// readJobs reads the jobs that are booked, and what was issued to them.
func (n *supplies) readJobs(tx store.ReadTx) error {
	for _, state := range []job.State{job.Agreed, job.InTheWorkshop} {
		filter := store.JobFilter{State: state, Limit: 200}
		for {
			list, next, err := tx.Jobs(filter)
			if err != nil {
				return err
			}
			for _, e := range list {
				moved, err := tx.MovedForJob(e.ID)
				if err != nil {
					return err
				}
				id := e.ID.String()
				n.jobs[id], n.order = &floorNeeds{job: e, issued: moved}, append(n.order, id)
			}
			if filter.After = next; next == nil {
				break
			}
		}
	}
	slices.SortFunc(n.order, func(a, b string) int { return int(n.jobs[a].job.Number - n.jobs[b].job.Number) })
	return nil
}

// slotsAround are the days of the vans on the floor, by job.
func slotsAround(tx store.ReadTx, today string) (map[uuid.UUID]schedule.Slot, error) {
	from, err := calendar.Add(today, -slotDaysBack)
	if err != nil {
		return nil, err
	}
	until, err := calendar.Add(today, slotDaysOn)
	if err != nil {
		return nil, err
	}
	list, err := tx.SlotsOn(from, until)
	if err != nil {
		return nil, err
	}
	slots := make(map[uuid.UUID]schedule.Slot, len(list))
	for _, slot := range list {
		slots[slot.Job] = slot.Days
	}
	return slots, nil
}

// needsOf dates what a job wants, and puts substitutes in.
func (s *Server) needsOf(c *gin.Context, n *supplies, f *floorNeeds, slots map[uuid.UUID]schedule.Slot, substitutes []supply.Substitute) error {
	made, err := s.jobNeeds(c, f.job)
	if err != nil {
		return err
	}
	slot, ok := slots[f.job.ID]
	f.slot = ok
	offered := n.offer.release.Catalogue()
	if made.release > 0 {
		release, err := s.releaseByNumber(c, made.release)
		if err != nil {
			return err
		}
		offered = release.Catalogue()
	}
	if f.needs, err = made.needs.On(offered, slot.Stages, n.working); err != nil {
		return fmt.Errorf("job %d: %w", f.job.Number, err)
	}
	f.needs.Wants = slices.DeleteFunc(supply.Substituted(n.offer.release.Catalogue(), f.needs.Wants, substitutes), made.isDone)
	f.needs.ToppedUp = slices.DeleteFunc(supply.Substituted(n.offer.release.Catalogue(), f.needs.ToppedUp, substitutes), made.isDone)
	f.needs.OneOffs = slices.DeleteFunc(f.needs.OneOffs, made.isDone)
	f.needs.Open = slices.DeleteFunc(f.needs.Open, func(o supply.Open) bool { return slices.Contains(made.done, o.Stage) })
	f.used, f.done = made.used, made.done
	f.needs.Wants = slices.DeleteFunc(f.needs.Wants, func(w supply.Want) bool {
		topped := w.Kind == supply.Part && w.Provision != catalogue.ForTheJob // of a substitute: it comes from the bins
		if topped {
			f.needs.ToppedUp = append(f.needs.ToppedUp, w)
		}
		return topped
	})
	n.wants = append(n.wants, f.needs.Wants...)
	return nil
}

func (m *jobNeeds) isDone(w supply.Want) bool { return slices.Contains(m.done, w.Stage) }

// jobNeeds is what a job wants as it is now, without days.
func (s *Server) jobNeeds(c *gin.Context, e store.JobEntry) (*jobNeeds, error) {
	key := principal(c).Workshop.String() + "/" + e.ID.String() + "/" + fmt.Sprint(e.Version)
	return s.needs.get(c.Request.Context(), key, func() (*jobNeeds, int, error) {
		var content *job.Job
		var text *agreedText
		err := s.readTx(c, func(tx store.ReadTx) error {
			kept, err := tx.Job(e.ID)
			if err != nil {
				return err
			}
			if content, err = kept.Content(); err != nil {
				return err
			}
			text, err = readAgreed(tx, kept.JobEntry, content)
			return err
		})
		if err != nil {
			return nil, 0, err
		}
		made := &jobNeeds{used: content.UsedParts(), done: content.OverStages()}
		sheet, err := s.sheetWanted(c, made, content, text)
		if err != nil || sheet == nil {
			return made, wantBytes, err
		}
		// Bench days are of the release's kits and come with the days.
		made.needs, err = supply.Wanted(e.ID.String(), &catalogue.Catalogue{}, sheet, nil, calendar.Calendar{})
		made.needs.OneOffs = slices.DeleteFunc(made.needs.OneOffs, func(w supply.Want) bool { return content.InParts(w.Code) })
		return made, wantBytes * (1 + len(sheet.Lines)), err
	})
}

// sheetWanted is the sheet whose parts a job wants, with those of what was
// found on the way; of a job without a quote its own. nil is none.
func (s *Server) sheetWanted(c *gin.Context, made *jobNeeds, content *job.Job, text *agreedText) (*bom.Sheet, error) {
	own, without := content.OwnRelease()
	switch {
	case without:
		made.release = own
	case text == nil:
		return nil, nil //nolint:nilnil // nothing was agreed
	}
	var sheet *bom.Sheet
	if !without {
		now, err := text.now()
		if err != nil {
			return nil, err
		}
		made.release, sheet = now.Release.Number, &now.Van.Sheet
	}
	release, err := s.releaseOrLatest(c, made.release)
	if err != nil {
		return nil, err
	}
	if without {
		sheet = content.OwnSheet(release.Catalogue())
	}
	return content.WithFindings(sheet, release.Catalogue()), nil
}

// net holds all wants against stock and what is due.
func (n *supplies) net() error {
	n.position = supply.Position{Today: n.today, Calendar: n.working, Items: order.Items(n.offer.book, n.today)}
	kinds := map[string]supply.Kind{}
	for i := range n.position.Items {
		if it := &n.position.Items[i]; it.Kind != supply.Outside {
			kinds[it.Code] = it.Kind
		}
	}
	for i := range n.wants { // of older releases
		if w := &n.wants[i]; w.Kind != supply.Outside && kinds[w.Code] == "" {
			kinds[w.Code] = w.Kind
		}
	}
	kindOf := func(code string) supply.Kind {
		if k := kinds[code]; k != "" {
			return k
		}
		return supply.Part
	}
	for i := range n.stock {
		n.position.Held = append(n.position.Held, n.stock[i].Holdings(kindOf(n.stock[i].Part), n.stock[i].Part)...)
	}
	for _, id := range n.order {
		n.position.Held = append(n.position.Held, n.jobs[id].held(kindOf)...)
	}
	for _, o := range n.orders {
		content, err := o.Content()
		if err != nil {
			return err
		}
		n.contents = append(n.contents, content)
		n.position.Due = append(n.position.Due, content.Due(o.ID.String())...)
	}
	var err error
	n.plan, err = n.position.Net(n.wants)
	return err
}

// readyFor says when the parts of a van can be there, its own job's wants put
// aside.
func (n *supplies) readyFor(p *planned) ([]schedule.StageReady, error) {
	id, booked := "", n.plan
	if p.job.ID != uuid.Nil {
		id = p.job.ID.String()
		others := slices.DeleteFunc(slices.Clone(n.wants), func(w supply.Want) bool { return w.Job == id })
		var err error
		if booked, err = n.position.Net(others); err != nil {
			return nil, err
		}
	}
	needs, err := supply.Wanted(id, p.release.Catalogue(), p.sheet, nil, n.working)
	if err != nil {
		return nil, err
	}
	return n.position.ReadyBy(&booked, needs.Wants)
}

// held is what a job has: issued and not put back, or on its board, less what
// went into stages that are done. It meets the job's wants first, as if it were
// kept for it.
func (f *floorNeeds) held(kindOf func(string) supply.Kind) []supply.Holding {
	type at struct{ part, stage string }
	moved, used := map[at]decimal.Decimal{}, map[at]decimal.Decimal{}
	var parts []string
	for _, m := range f.issued {
		moved[at{m.Part, m.Stage}] = moved[at{m.Part, m.Stage}].Add(issued(m))
		parts = append(parts, m.Part)
	}
	for _, u := range f.used {
		used[at{u.Part, u.Stage}] = u.Used
		parts = append(parts, u.Part)
	}
	slices.Sort(parts)
	var list []supply.Holding
	for _, part := range slices.Compact(parts) {
		var out, board, spent decimal.Decimal
		for k, q := range moved {
			if k.part == part {
				out = out.Add(q)
			}
		}
		for k, q := range used {
			if k.part == part {
				board = board.Add(q)
			}
		}
		for _, stage := range f.done {
			spent = spent.Add(decimal.Max(moved[at{part, stage}], used[at{part, stage}]))
		}
		if left := decimal.Max(out, board).Sub(spent); left.Sign() > 0 {
			list = append(list, supply.Holding{Kind: kindOf(part), Code: part, Job: f.job.ID.String(), Quantity: left})
		}
	}
	return list
}

// bins as proposals take them: what is on hand, and due of drafts and orders.
func (n *supplies) lowBins() []order.Bin {
	list := make([]order.Bin, len(n.bins))
	for i, b := range n.bins {
		list[i] = order.Bin{Part: b.Part, Least: b.Least, TopUp: b.TopUp}
		for k := range n.stock {
			if n.stock[k].Part == b.Part {
				list[i].OnHand = n.stock[k].OnHand
			}
		}
		for _, d := range n.position.Due {
			if d.Code == b.Part && d.Kind == supply.Part {
				list[i].Due = list[i].Due.Add(d.Quantity)
			}
		}
	}
	return list
}

// propose is what has to be ordered by a day.
func (n *supplies) propose(orderBy string) (order.Proposals, error) {
	return order.Propose(order.Ask{
		Today: n.today, Calendar: n.working, Book: n.offer.book, Wants: n.wants, Plan: &n.plan, OrderBy: orderBy, Bins: n.lowBins(),
	})
}

// orderByAsked is the last day to order what is proposed.
func (n *supplies) orderByAsked(text string) (string, error) {
	if text != "" {
		return text, nil
	}
	return n.working.Forward(n.today, orderByDays)
}

// supplyRefused tells what stands in the way.
func supplyRefused(faults document.Faults) error {
	p := &problem{code: openapi.ProblemCodeTermsRefused, detail: "It cannot be done so.", remedy: "Mend the fields named in errors."}
	for _, f := range faults {
		if f.Code == "state" {
			return &problem{code: openapi.ProblemCodeStateConflict, detail: f.Reason, remedy: f.Remedy}
		}
		p.errors = append(p.errors, openapi.FieldError{Field: "/" + f.At, Code: f.Code, Reason: f.Reason, Remedy: f.Remedy})
	}
	return p
}

// refusedBy turns the faults of a stock into a problem.
func refusedBy(err error) error {
	if faults, ok := errors.AsType[document.Faults](err); ok {
		return supplyRefused(faults)
	}
	return err
}

// refusedInBody is the same where the faults count the members of lists from 1.
func refusedInBody(err error) error {
	if faults, ok := errors.AsType[document.Faults](err); ok {
		return supplyRefused(pointed(faults))
	}
	return err
}

// namedJob: a job that is named has to be there.
func namedJob(tx store.ReadTx, field string, id uuid.UUID) error {
	if id == uuid.Nil {
		return nil
	}
	_, err := tx.JobEntry(id)
	if errors.Is(err, store.ErrNotFound) {
		return unknownReference(field, "job")
	}
	return err
}
