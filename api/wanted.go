package api

import (
	"bytes"
	"cmp"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"wainscot/api/paper"
	"wainscot/bom/calendar"
	"wainscot/bom/supply"
	"wainscot/openapi"
	"wainscot/pricing/order"
)

// listWanted tells what is wanted, and where each comes from.
func (s *Server) listWanted(c *gin.Context) error {
	body, err := s.wanted(c)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, body)
}

func (s *Server) wanted(c *gin.Context) (*openapi.Wanted, error) {
	n, err := s.suppliesNow(c)
	if err != nil {
		return nil, err
	}
	until := c.Query("until")
	if until == "" {
		if until, err = calendar.Add(n.today, wantedDays); err != nil {
			return nil, err
		}
	}
	return n.contractWanted(until, c.Query("job")), nil
}

// contractWanted tells wants up to a day, of one job or of all.
func (n *supplies) contractWanted(until, ofJob string) *openapi.Wanted {
	out := &openapi.Wanted{
		Today: n.today, Until: until, Lines: []openapi.WantedLine{}, ToppedUp: []openapi.WantedLine{}, Open: []openapi.OpenWant{},
		OneOffs: []openapi.WantedLine{}, WithoutSlot: []openapi.Id{},
	}
	late := map[int][]openapi.LateWant{}
	for _, l := range n.plan.Late {
		if l.Want >= 0 {
			late[l.Want] = append(late[l.Want], n.contractLate(l))
		}
	}
	told := func(day, job string) bool { return (day == "" || day <= until) && (ofJob == "" || ofJob == job) }
	for i := range n.wants {
		w := &n.wants[i]
		if w.Day == "" || !told(w.Day, w.Job) {
			continue
		}
		line := n.contractWant(w)
		m := n.plan.Met[i]
		line.FromStock, line.FromDue, line.ToOrder = plain(m.Stock), plain(m.Due), plain(m.Planned)
		line.Late = append(line.Late, late[i]...)
		out.Lines = append(out.Lines, line)
	}
	slices.SortStableFunc(out.Lines, func(a, b openapi.WantedLine) int {
		return cmp.Or(strings.Compare(a.Day, b.Day), int(a.JobNumber)-int(b.JobNumber))
	})
	if out.More = len(out.Lines) > maxWanted; out.More {
		out.Lines = out.Lines[:maxWanted]
	}
	for _, id := range n.order {
		f := n.jobs[id]
		if !f.slot && (ofJob == "" || ofJob == id) && len(out.WithoutSlot) < maxWanted {
			out.WithoutSlot = append(out.WithoutSlot, id)
		}
		for k := range f.needs.ToppedUp {
			if w := &f.needs.ToppedUp[k]; told(w.Day, id) && len(out.ToppedUp) < maxWanted {
				out.ToppedUp = append(out.ToppedUp, n.contractWant(w))
			}
		}
		for k := range f.needs.OneOffs {
			if w := &f.needs.OneOffs[k]; told(w.Day, id) && len(out.OneOffs) < maxWanted {
				out.OneOffs = append(out.OneOffs, n.contractWant(w))
			}
		}
		for _, o := range f.needs.Open {
			if told(o.Day, id) && len(out.Open) < maxWanted {
				out.Open = append(out.Open, openapi.OpenWant{Job: id, JobNumber: whole(int(f.job.Number)), Stage: o.Stage, Finish: o.Finish,
					Name: o.Name, Unit: o.Unit, Quantity: plain(o.Quantity), Day: o.Day})
			}
		}
	}
	return out
}

func (n *supplies) contractWant(w *supply.Want) openapi.WantedLine {
	return openapi.WantedLine{
		Job: w.Job, JobNumber: n.number(w.Job), Stage: w.Stage, Kind: openapi.SupplyKind(w.Kind), Code: w.Code, Name: w.Name, Unit: w.Unit,
		Quantity: plain(w.Quantity), Day: w.Day, Until: w.Until, Via: append([]openapi.PartCode{}, w.Via...),
		FromStock: "0", FromDue: "0", ToOrder: "0", Late: []openapi.LateWant{},
	}
}

// number of a job that is booked, 0 for any other.
func (n *supplies) number(job string) int32 {
	if f := n.jobs[job]; f != nil {
		return whole(int(f.job.Number))
	}
	return 0
}

func (n *supplies) orderNumber(id string) int32 {
	for _, o := range n.orders {
		if o.ID.String() == id {
			return whole(int(o.Number))
		}
	}
	return 0
}

func (n *supplies) contractLate(l supply.Late) openapi.LateWant {
	w := &n.wants[l.Want]
	return openapi.LateWant{
		Job: w.Job, JobNumber: n.number(w.Job), Stage: w.Stage, Code: l.Code, Name: nameIf(w, l.Code), Quantity: plain(l.Quantity), WantedOn: l.Wanted, There: l.There,
		Order: l.Order, OrderNumber: n.orderNumber(l.Order),
	}
}

// nameIf is the want's name where it is that itself.
func nameIf(w *supply.Want, code string) string {
	if w.Code == code {
		return w.Name
	}
	return code
}

// wantedTable is what is wanted on paper.
func wantedTable(w *openapi.Wanted) paper.Table {
	t := paper.Table{
		Name: "Wanted", Title: "What is wanted until " + calendar.Said(w.Until), Subject: "As of " + calendar.Said(w.Today), Day: w.Today,
		Columns: []paper.Column{
			{Name: "day", Head: "Day", Width: 12}, {Name: "job", Head: "Job", Width: 8, Number: true}, {Name: "stage", Head: "Stage", Width: 16},
			{Name: "kind", Head: "Kind", Width: 12}, {Name: "code", Head: "Code", Width: 24}, {Name: "name", Head: "Name", Width: 36},
			{Name: "unit", Head: "Unit", Width: 8}, {Name: "quantity", Head: "Wanted", Width: 10, Number: true},
			{Name: "from_stock", Head: "In stock", Width: 10, Number: true}, {Name: "from_due", Head: "Due", Width: 10, Number: true},
			{Name: "to_order", Head: "To order", Width: 10, Number: true}, {Name: "late_until", Head: "Late until", Width: 12}, {Name: "via", Head: "In kit", Width: 24},
		},
	}
	for i := range w.Lines {
		l := &w.Lines[i]
		late := ""
		for _, k := range l.Late {
			late = max(late, k.There)
		}
		t.Rows = append(t.Rows, []string{
			l.Day, fmt.Sprint(l.JobNumber), l.Stage, string(l.Kind), l.Code, l.Name, l.Unit, l.Quantity, l.FromStock, l.FromDue, l.ToOrder, late, strings.Join(l.Via, " "),
		})
	}
	return t
}

func (s *Server) getWantedCSV(c *gin.Context) error {
	return s.wantedOnPaper(c, kindCSV, ".csv", paper.TableCSV)
}

func (s *Server) getWantedXLSX(c *gin.Context) error {
	return s.wantedOnPaper(c, kindXLSX, ".xlsx", paper.TableXLSX)
}

func (s *Server) wantedOnPaper(c *gin.Context, kind, ending string, write func(io.Writer, paper.Table) error) error {
	w, err := s.wanted(c)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := write(&b, wantedTable(w)); err != nil {
		return fmt.Errorf("what is wanted on paper: %w", err)
	}
	return sendFile(c, kind, "wanted-"+w.Today+ending, b.Bytes())
}

// listProposals tells what to order now.
func (s *Server) listProposals(c *gin.Context) error {
	n, err := s.suppliesNow(c)
	if err != nil {
		return err
	}
	by, err := n.orderByAsked(c.Query("order_by"))
	if err != nil {
		return err
	}
	proposals, err := n.propose(by)
	if err != nil {
		return err
	}
	show := shownProposals{n, principal(c).Role.SeesCost()}
	out := openapi.Proposals{Today: n.today, OrderBy: by, Orders: mapped(proposals.Orders, show.proposal), Make: mapped(n.plan.Make, show.kit),
		Late: []openapi.LateWant{}, Unsourced: mapped(proposals.Unsourced, show.line)}
	for _, l := range n.plan.Late {
		if l.Want >= 0 && len(out.Late) < maxWanted {
			out.Late = append(out.Late, n.contractLate(l))
		}
	}
	out.Make = out.Make[:min(len(out.Make), maxWanted)]
	return answer(c, http.StatusOK, out)
}

// shownProposals says who is shown them.
type shownProposals struct {
	*supplies
	money bool
}

func (s shownProposals) proposal(p order.Proposal) openapi.Proposal {
	out := openapi.Proposal{SupplierCode: p.Supplier, SupplierName: p.Name, OrderBy: p.OrderBy, TooLate: p.TooLate, Lines: mapped(p.Lines, s.line)}
	if s.money {
		out.Goods, out.Carriage, out.Total = contractAmount(p.Goods), contractAmount(p.Carriage), contractAmount(p.Total)
		out.BelowLeast, out.FreeCarriageMore, out.Later = contractAmount(p.BelowLeast), contractAmount(p.FreeCarriageMore), contractAmount(p.Later)
	}
	return out
}

func (s shownProposals) line(l order.ProposedLine) openapi.ProposedLine {
	out := openapi.ProposedLine{
		Kind: openapi.SupplyKind(l.Kind), Code: l.Code, Name: l.Name, Unit: l.Unit, SupplierPart: l.SupplierPart, Quantity: plain(l.Quantity), Wanted: plain(l.Wanted),
		WantedOn: l.WantedOn, OrderBy: l.OrderBy, TooLate: l.TooLate, TopUp: l.TopUp, Job: l.Job, Certificate: l.Certificate,
		For: mapped(l.For, s.whom), Alternatives: mapped(l.Alternatives, s.alternative),
	}
	if l.Pack.Sign() > 0 {
		out.Pack = plain(l.Pack)
	}
	if s.money && l.UnitPrice.Currency() != "" {
		out.UnitPrice, out.Amount = contractUnitPrice(l.UnitPrice), contractAmount(l.Amount)
		if b := l.Break; b != nil {
			out.Break = openapi.BreakWorth{From: plain(b.From), More: plain(b.More), UsedOn: b.UsedOn, Left: plain(b.Left), Worth: b.Worth,
				UnitPrice: contractUnitPrice(b.UnitPrice), Saving: contractAmount(b.Saving)}
		}
	}
	return out
}

func (s shownProposals) whom(f order.For) openapi.OrderFor {
	return openapi.OrderFor{Job: f.Job, JobNumber: s.number(f.Job), Stage: f.Stage, WantedOn: f.WantedOn, Quantity: plain(f.Quantity)}
}

func (s shownProposals) alternative(a order.Alternative) openapi.SupplyAlternative {
	out := openapi.SupplyAlternative{SupplierCode: a.Supplier, SupplierName: a.Name, LeadDays: whole(a.LeadDays), There: a.There, InTime: a.InTime, Quantity: plain(a.Quantity)}
	if s.money {
		out.UnitPrice, out.Amount, out.Dearer = contractUnitPrice(a.UnitPrice), contractAmount(a.Amount), contractAmount(a.Dearer)
	}
	return out
}

func (s shownProposals) kit(p supply.Planned) openapi.KitToMake {
	out := openapi.KitToMake{Code: p.Code, Name: p.Code, Quantity: plain(p.Quantity), WantedOn: p.Day, StartBy: p.StartBy, TooLate: p.TooLate, Job: p.Job, For: []openapi.OrderFor{}}
	for _, f := range p.For {
		if f.Want >= 0 {
			w := &s.wants[f.Want]
			out.Name = cmp.Or(nameIf(w, p.Code), p.Code)
			out.For = append(out.For, s.whom(order.For{Job: w.Job, Stage: w.Stage, WantedOn: p.Day, Quantity: f.Quantity}))
		}
	}
	return out
}
