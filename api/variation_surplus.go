package api

import (
	"cmp"
	"fmt"
	"net/http"
	"slices"

	"github.com/gin-gonic/gin"
	"github.com/shopspring/decimal"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/bom"
	"wainscot/bom/calendar"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/bom/supply"
	"wainscot/openapi"
	"wainscot/pricing/job"
	"wainscot/pricing/order"
	"wainscot/pricing/pricebook"
)

// What a variation leaves over of what is on order: told before it is sent,
// taken off drafts with the yes, and on a list until somebody has dealt with it.

// surplusRoutes are those of what is on order and not wanted any more.
func surplusRoutes() []route {
	return []route{
		{http.MethodGet, "/v1/surplus", []auth.Role{auth.Owner, auth.Workshop, auth.Books}, (*Server).listSurplus},
		{http.MethodPost, "/v1/orders/:id/surplus", []auth.Role{auth.Owner, auth.Workshop}, (*Server).dealWithSurplus},
	}
}

// shedding is a job before and after a variation, as far as orders are asked.
type shedding struct {
	job           store.JobEntry
	variation     int64
	today         string
	book          *pricebook.Compiled
	catalogue     *catalogue.Catalogue
	before, after jobWants
}

// jobWants is what a job wants, without days, and what it has had.
type jobWants struct {
	wants []supply.Want
	used  []job.PastPart
	done  []string // stages
}

// ware is what wants and orders are added up by.
type ware struct {
	kind supply.Kind
	code string
}

// shedding is nil where a variation changes nothing that is ordered.
func (s *Server) shedding(c *gin.Context, a *agreedJob, v *job.Variation) (*shedding, error) {
	ordered := func(l bom.LineDifference) bool { return l.Kind != bom.HoursLine && l.Kind != bom.StandingLine }
	if !slices.ContainsFunc(v.Difference.Lines, ordered) && len(v.Findings) == 0 {
		return nil, nil //nolint:nilnil // work alone
	}
	offered := a.release.Catalogue()
	d := &shedding{job: a.whole.JobEntry, variation: v.Number, today: a.ground.today, catalogue: offered}
	now := a.whole.Content.With(v, d.today, offered.Stages)
	var err error
	if d.book, err = s.edition(c, a.release, a.ground.edition); err != nil {
		return nil, err
	}
	if d.before, err = wantsOf(a.whole.Content, d.job, &a.Van.Sheet, offered); err != nil {
		return nil, err
	}
	d.after, err = wantsOf(&now, d.job, &v.Van.Sheet, offered)
	return d, err
}

// wantsOf is what a job wants by a sheet at the stages that are not over.
func wantsOf(content *job.Job, e store.JobEntry, sheet *bom.Sheet, c *catalogue.Catalogue) (jobWants, error) {
	w := jobWants{used: content.UsedParts(), done: content.OverStages()}
	needs, err := supply.Wanted(e.ID.String(), &catalogue.Catalogue{}, content.WithFindings(sheet, c), nil, calendar.Calendar{})
	if err != nil {
		return w, fmt.Errorf("job %d: %w", e.Number, err)
	}
	w.wants = slices.DeleteFunc(needs.Wants, func(n supply.Want) bool { return slices.Contains(w.done, n.Stage) })
	return w, nil
}

// supplied is what is on order, in stock and had, as a transaction sees it.
type supplied struct {
	orders      []store.Order
	contents    []order.Order
	stock       []store.Stock
	moved       []store.StockMovement
	substitutes []supply.Substitute
}

func (d *shedding) read(tx store.ReadTx) (*supplied, error) {
	n := &supplied{}
	var err error
	if n.orders, n.contents, err = standingOrders(tx); err != nil {
		return nil, err
	}
	if n.stock, err = tx.AllStock(); err != nil {
		return nil, err
	}
	if n.moved, err = tx.MovedForJob(d.job.ID); err != nil {
		return nil, err
	}
	n.substitutes, err = tx.AgreedSubstitutes()
	return n, err
}

func standingOrders(tx store.ReadTx) ([]store.Order, []order.Order, error) {
	list, err := tx.StandingOrders()
	if err != nil {
		return nil, nil, err
	}
	contents := make([]order.Order, len(list))
	for i := range list {
		content, err := list[i].Content()
		if err != nil {
			return nil, nil, err
		}
		contents[i] = *content
	}
	return list, contents, nil
}

// needs is what has to be got hold of yet, less than nothing of nothing.
func (d *shedding) needs(n *supplied, w *jobWants) map[ware]decimal.Decimal {
	need := map[ware]decimal.Decimal{}
	for _, want := range supply.Substituted(d.catalogue, w.wants, n.substitutes) {
		if k := (ware{want.Kind, want.Code}); k.kind != supply.Kit {
			need[k] = need[k].Add(want.Quantity)
		}
	}
	had := floorNeeds{job: d.job, issued: n.moved, used: w.used, done: w.done}
	for _, h := range had.held(func(string) supply.Kind { return supply.Part }) {
		need[ware{h.Kind, h.Code}] = need[ware{h.Kind, h.Code}].Sub(h.Quantity)
	}
	for i := range n.stock {
		if kept := n.stock[i].KeptFor(d.job.ID.String()); kept.Sign() > 0 {
			k := ware{supply.Part, n.stock[i].Part}
			need[k] = need[k].Sub(kept)
		}
	}
	for k, q := range need {
		need[k] = decimal.Max(decimal.Zero, q)
	}
	return need
}

// shed is what the change leaves over: what is on order for the job beyond what
// it wants after, without what was beyond it before. Less than nothing is what
// it wants again of what was left over.
func (d *shedding) shed(n *supplied) order.Shed {
	s := order.Shed{Job: d.job.ID.String(), Variation: d.variation, On: d.today}
	on, undealt := map[ware]decimal.Decimal{}, map[ware]decimal.Decimal{}
	var things []ware
	for i := range n.contents {
		for k := range n.contents[i].Lines {
			l := &n.contents[i].Lines[k]
			t := ware{l.Kind, cmp.Or(l.InPlaceOf, l.Code)}
			on[t], undealt[t] = on[t].Add(l.LeftFor(s.Job)), undealt[t].Add(l.Undealt(s.Job))
			if !slices.Contains(things, t) {
				things = append(things, t)
			}
		}
	}
	before, after := d.needs(n, &d.before), d.needs(n, &d.after)
	for _, t := range things {
		beyond := func(need decimal.Decimal) decimal.Decimal { return decimal.Max(decimal.Zero, on[t].Sub(need)) }
		quantity := beyond(after[t]).Sub(beyond(before[t]))
		if quantity.Sign() <= 0 {
			quantity = decimal.Min(undealt[t], decimal.Max(decimal.Zero, after[t].Sub(on[t]))).Neg()
		}
		if quantity.Sign() != 0 {
			s.Parts = append(s.Parts, order.Shedding{Kind: t.kind, Code: t.code, Quantity: quantity})
		}
	}
	return s
}

// told is what the yes would leave over.
func (d *shedding) told(tx store.ReadTx) ([]openapi.SurplusLine, error) {
	n, err := d.read(tx)
	if err != nil {
		return nil, err
	}
	_, became := d.shed(n).From(n.contents, d.book)
	return d.contract(n, became), nil
}

// keep takes it off the orders.
func (d *shedding) keep(tx store.WriteTx) error {
	n, err := d.read(tx.ReadTx)
	if err != nil {
		return err
	}
	shed := d.shed(n)
	if len(shed.Parts) == 0 {
		return nil
	}
	after, _ := shed.From(n.contents, d.book)
	for i := range after {
		if sameText(after[i], n.contents[i]) {
			continue
		}
		packed, err := store.PackOrder(&after[i])
		if err != nil {
			return err
		}
		if _, err := tx.ChangeOrder(n.orders[i].ID, n.orders[i].Version, &after[i], packed); err != nil {
			return err
		}
	}
	return nil
}

func (d *shedding) contract(n *supplied, became []order.ShedLine) []openapi.SurplusLine {
	return mapped(became, func(b order.ShedLine) openapi.SurplusLine {
		o := &n.orders[b.Order]
		out := contractSurplus(o.OrderEntry, &n.contents[b.Order], b.Line, b.Quantity)
		out.Changed, out.Job, out.JobNumber, out.Variation = b.Changed, d.job.ID.String(), whole(int(d.job.Number)), whole(int(d.variation))
		out.Says = surplusSays(&out)
		return out
	})
}

func contractSurplus(e store.OrderEntry, o *order.Order, line int, quantity decimal.Decimal) openapi.SurplusLine {
	l := &o.Lines[line-1]
	return openapi.SurplusLine{
		Order: e.ID.String(), OrderNumber: whole(int(e.Number)), OrderState: openapi.OrderState(e.State), SupplierCode: e.Supplier, SupplierName: e.Name,
		Line: whole(line), Kind: openapi.SupplyKind(l.Kind), Code: l.Code, Name: l.Name, Unit: l.Unit, Quantity: plain(quantity), WantedOn: l.WantedOn, DueOn: l.DueOn,
	}
}

// surplusSays what may be done about it.
func surplusSays(l *openapi.SurplusLine) string {
	what := fmt.Sprintf("Order %d, line %d: %s %s of “%s”", l.OrderNumber, l.Line, l.Quantity, l.Unit, l.Name)
	switch {
	case l.Changed:
		return what + " go from the draft with the yes."
	case l.OrderState == openapi.OrderState(order.Draft):
		return what + " are not wanted any more. The draft is for others too: change its line."
	}
	return what + " are ordered and not wanted any more. Ask " + l.SupplierName + " to take them back, or let them go to stock; of what cannot go back less is credited."
}

// surplusOf is what of orders a variation has left over, or, while it waits for
// an answer, would.
func surplusOf(tx store.ReadTx, d *shedding, kept *store.Variation) ([]openapi.SurplusLine, error) {
	switch {
	case kept.State == job.VariationAccepted:
		return surplus(tx, func(s *order.Surplus) bool { return s.Job == kept.Job.String() && s.Variation == kept.Number })
	case d == nil || kept.State != job.VariationDraft && kept.State != job.VariationSent:
		return []openapi.SurplusLine{}, nil
	}
	return d.told(tx)
}

// maxSurplus is how many are told at once.
const maxSurplus = 2000

// surplus lists what is left over that nobody has dealt with.
func surplus(tx store.ReadTx, asked func(*order.Surplus) bool) ([]openapi.SurplusLine, error) {
	orders, contents, err := standingOrders(tx)
	if err != nil {
		return nil, err
	}
	list := []openapi.SurplusLine{}
	for i := range contents {
		for k := range contents[i].Lines {
			l := &contents[i].Lines[k]
			left := l.Undealt("")
			for n := range l.Surplus {
				s := &l.Surplus[n]
				quantity := decimal.Min(s.Quantity, left)
				if s.Dealt != "" || quantity.Sign() <= 0 {
					continue
				}
				left = left.Sub(quantity)
				if !asked(s) {
					continue
				}
				entry, err := tx.JobEntry(askedID(s.Job))
				if err != nil {
					return nil, err
				}
				out := contractSurplus(orders[i].OrderEntry, &contents[i], k+1, quantity)
				out.Job, out.JobNumber, out.Variation, out.Since = s.Job, whole(int(entry.Number)), whole(int(s.Variation)), s.Since
				out.Says = surplusSays(&out)
				list = append(list, out)
			}
		}
	}
	slices.SortStableFunc(list, func(a, b openapi.SurplusLine) int { return cmp.Compare(a.DueOn, b.DueOn) })
	return list[:min(len(list), maxSurplus)], nil
}

// listSurplus is what changes of jobs have left over of what is on order, until
// somebody has dealt with it; what comes first first.
func (s *Server) listSurplus(c *gin.Context) error {
	var list []openapi.SurplusLine
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		list, err = surplus(tx, func(*order.Surplus) bool { return true })
		return err
	})
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, openapi.SurplusList{Lines: list})
}

// dealWithSurplus says what becomes of what a line has left over.
func (s *Server) dealWithSurplus(c *gin.Context) error {
	asked, err := decode[openapi.SurplusDealt](c)
	if err != nil {
		return err
	}
	return s.orderStep(c, func(tx store.WriteTx, was order.Order) (order.Order, document.Faults, error) {
		on, err := dayOf(tx.ReadTx)
		if err != nil {
			return was, nil, err
		}
		return was.DealWith(int(asked.Line), order.Dealt(asked.How), on)
	}, nil)
}
