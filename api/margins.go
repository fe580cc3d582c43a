package api

import (
	"cmp"
	"fmt"
	"net/http"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/api/paper"
	"wainscot/api/store"
	"wainscot/openapi"
	"wainscot/pricing/ledger"
	"wainscot/pricing/margin"
	"wainscot/pricing/money"
	"wainscot/pricing/order"
	"wainscot/pricing/pricebook"
	"wainscot/pricing/settlement"
)

// marginRoutes are those of what jobs earned and cost.
func marginRoutes() []route {
	keepers := []auth.Role{auth.Owner, auth.Books}
	return []route{
		{http.MethodGet, "/v1/books/margins", keepers, (*Server).getMargins},
		{http.MethodGet, "/v1/books/margins.csv", keepers, onTable(kindCSV, ".csv", paper.TableCSV, (*Server).marginsTable)},
		{http.MethodGet, "/v1/books/margins.xlsx", keepers, onTable(kindXLSX, ".xlsx", paper.TableXLSX, (*Server).marginsTable)},
	}
}

// jobMargin is the margin of one job, over all its life.
type jobMargin struct {
	store.JobEntry
	margin.Margin
}

// margins are those of every job of which something was earned between two days.
type margins struct {
	from, until string
	list        []jobMargin
	all         margin.Margin // of them together
}

func (s *Server) marginsAsked(c *gin.Context) (out margins, err error) {
	o, err := s.pricedOffer(c, "")
	if err != nil {
		return out, err
	}
	g, err := s.moneyGround(c)
	if err != nil {
		return out, err
	}
	out.from = c.Query("from")
	out.until = cmp.Or(c.Query("until"), g.today) // a period that is not over is told as far as it has come
	err = s.readTx(c, func(tx store.ReadTx) error {
		entries, err := tx.LedgerEntriesBetween("", out.until)
		if err != nil {
			return err
		}
		now := slices.DeleteFunc(slices.Clone(entries), func(e ledger.Entry) bool { return e.Day < out.from })
		touched, err := margin.EarnedIn(now, g.currency)
		if err != nil {
			return err
		}
		earned, err := margin.EarnedIn(entries, g.currency)
		if err != nil {
			return err
		}
		r, err := readSpent(tx, o.book, o.day)
		if err != nil {
			return err
		}
		for id := range touched {
			one, err := r.margin(tx, askedID(id), earned[id])
			if err != nil {
				return err
			}
			out.list = append(out.list, one)
		}
		return nil
	})
	if err != nil {
		return out, err
	}
	slices.SortFunc(out.list, func(a, b jobMargin) int { return cmp.Compare(a.Number, b.Number) })
	return out, out.sum(g.currency)
}

// spent is what jobs are held against: every order there is, what was charged
// for it, and vans that were sold.
type spent struct {
	book    *pricebook.Compiled
	day     string
	orders  []settlement.Order
	charged margin.Charged
	vans    map[uuid.UUID]money.Amount // by the job they were sold with
}

func readSpent(tx store.ReadTx, book *pricebook.Compiled, day string) (*spent, error) {
	r := &spent{book: book, day: day, charged: margin.Charged{}, vans: map[uuid.UUID]money.Amount{}}
	kept, err := tx.OrdersSince("")
	if err != nil {
		return nil, err
	}
	byID := map[string]*order.Order{}
	for i := range kept {
		content, err := kept[i].Content()
		if err != nil {
			return nil, err
		}
		r.orders, byID[kept[i].ID.String()] = append(r.orders, settlement.Order{ID: kept[i].ID.String(), Order: content}), content
	}
	papers, err := tx.SupplierInvoicesOfOrders()
	if err != nil {
		return nil, err
	}
	for _, p := range papers {
		if o := byID[p.Order]; o != nil {
			r.charged.Add(p, o)
		}
	}
	vans, err := tx.StockBook()
	if err != nil {
		return nil, err
	}
	for i := range vans {
		v := &vans[i]
		if v.Sale == nil || v.Job == uuid.Nil {
			continue
		}
		was, ok := r.vans[v.Job]
		if !ok {
			was = money.Zero(v.Paid.Currency())
		}
		if r.vans[v.Job], err = money.Sum(v.Paid.Currency(), was, v.Paid, v.Sale.VAT); err != nil {
			return nil, err
		}
	}
	return r, nil
}

// margin of one job.
func (r *spent) margin(tx store.ReadTx, id uuid.UUID, e margin.Earned) (jobMargin, error) {
	kept, err := tx.Job(id)
	if err != nil {
		return jobMargin{}, err
	}
	content, err := kept.Content()
	if err != nil {
		return jobMargin{}, err
	}
	costs, err := settlement.Costs(id.String(), content, r.orders, r.book, r.day)
	if err != nil {
		return jobMargin{}, err
	}
	vans, ok := r.vans[id]
	if !ok {
		vans = money.Zero(e.Sales.Currency())
	}
	m, err := margin.Of(e, costs, r.charged, vans)
	return jobMargin{kept.JobEntry, m}, err
}

// sum adds up all jobs.
func (m *margins) sum(c money.Currency) error {
	earned, costs, vans := margin.Earned{Sales: money.Zero(c), Kept: money.Zero(c)}, []settlement.Cost(nil), money.Zero(c)
	unknown := 0
	for i := range m.list {
		one := &m.list[i]
		for _, add := range []struct {
			into *money.Amount
			sum  money.Amount
		}{{&earned.Sales, one.Sales}, {&earned.Kept, one.Kept}, {&vans, one.Vans}} {
			var err error
			if *add.into, err = add.into.Add(add.sum); err != nil {
				return err
			}
		}
		known := money.UnitPrice{}
		costs = append(costs, settlement.Cost{What: settlement.Hours, Amount: one.Hours, UnitCost: &known}, settlement.Cost{What: settlement.Used, Amount: one.Parts, UnitCost: &known},
			settlement.Cost{What: settlement.Agreed, Amount: one.Outside, UnitCost: &known})
		unknown += one.Unknown
	}
	var err error
	m.all, err = margin.Of(earned, costs, nil, vans)
	m.all.Unknown = unknown
	return err
}

// getMargins gives the margin of every job of which something was earned.
func (s *Server) getMargins(c *gin.Context) error {
	m, err := s.marginsAsked(c)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, openapi.JobMargins{
		From: m.from, Until: m.until, Total: contractMargin(&m.all),
		Jobs: mapped(m.list, func(j jobMargin) openapi.JobMargin {
			return openapi.JobMargin{Job: j.ID.String(), Number: whole(int(j.Number)), State: openapi.JobState(j.State), Margin: contractMargin(&j.Margin)}
		}),
	})
}

func contractMargin(m *margin.Margin) openapi.MarginSums {
	out := openapi.MarginSums{
		Sales: contractAmount(m.Sales), DepositsKept: contractAmount(m.Kept), Hours: contractAmount(m.Hours), Parts: contractAmount(m.Parts),
		OutsideWork: contractAmount(m.Outside), Vans: contractAmount(m.Vans), Cost: contractAmount(m.Cost), Margin: contractAmount(m.Margin), Unknown: whole(m.Unknown),
	}
	if m.Percent != nil {
		out.MarginPercent = plain(*m.Percent)
	}
	return out
}

func (s *Server) marginsTable(c *gin.Context) (paper.Table, string, error) {
	m, err := s.marginsAsked(c)
	t := paper.Table{
		Name: "Margins", Title: "Margin by job", Subject: "Jobs of which something was earned, each over all its life; without VAT", Day: m.until,
		Columns: []paper.Column{
			{Name: "job", Head: "Job", Width: 8, Number: true}, {Name: "state", Head: "State", Width: 16}, {Name: "sales", Head: "Invoiced", Width: 14, Number: true},
			{Name: "deposits_kept", Head: "Deposits kept", Width: 14, Number: true}, {Name: "hours", Head: "Hours", Width: 14, Number: true}, {Name: "parts", Head: "Parts", Width: 14, Number: true},
			{Name: "outside_work", Head: "Outside work", Width: 14, Number: true}, {Name: "vans", Head: "Vans", Width: 14, Number: true}, {Name: "cost", Head: "All of that", Width: 14, Number: true},
			{Name: "margin", Head: "Margin", Width: 14, Number: true}, {Name: "margin_percent", Head: "Margin in %", Width: 12, Number: true}, {Name: "unknown", Head: "Costs nobody knows", Width: 18, Number: true},
		},
	}
	row := func(number, state string, m *margin.Margin) {
		percent := ""
		if m.Percent != nil {
			percent = plain(*m.Percent)
		}
		t.Rows = append(t.Rows, []string{number, state, m.Sales.Fixed(), m.Kept.Fixed(), m.Hours.Fixed(), m.Parts.Fixed(), m.Outside.Fixed(), m.Vans.Fixed(), m.Cost.Fixed(), m.Margin.Fixed(), percent, strconv.Itoa(m.Unknown)})
	}
	for i := range m.list {
		row(fmt.Sprint(m.list[i].Number), string(m.list[i].State), &m.list[i].Margin)
	}
	if err == nil {
		row("", "all", &m.all)
	}
	return t, "margins-" + m.until, err
}
