package api

import (
	"slices"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/store"
	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/openapi"
	"wainscot/pricing/job"
)

// Where the parts of a job are that a change drops: read from stock, orders and
// the board, so that nobody has to say it. Only what a supplier takes back is in
// no record.

// drops says whether any part becomes fewer.
func drops(d *bom.Difference) bool {
	return slices.ContainsFunc(d.Lines, func(l bom.LineDifference) bool { return l.Kind == bom.PartLine && l.After.LessThan(l.Before) })
}

// partsOf are where the parts of a job are that its sheet has; returns is what
// was said of what suppliers take back.
func (s *Server) partsOf(c *gin.Context, a *agreedJob, returns []job.PartProgress) ([]job.PartProgress, error) {
	n, err := s.suppliesNow(c)
	if err != nil {
		return nil, err
	}
	var moved []store.StockMovement
	err = s.readTx(c, func(tx store.ReadTx) (err error) {
		moved, err = tx.MovedForJob(a.whole.ID)
		return err
	})
	if err != nil {
		return nil, err
	}
	all := n.partsFor(a.whole.ID, &a.Van.Sheet, moved)
	for _, said := range returns {
		if at := all[said.Part]; at != nil {
			at.Returns = said.CanGoBack
		}
	}
	list := []job.PartProgress{}
	for _, at := range all {
		p := a.whole.Content.PartProgress(at)
		if p.Ordered.Sign() > 0 || p.Here.Sign() > 0 || p.Fitted.Sign() > 0 {
			list = append(list, p)
		}
	}
	slices.SortFunc(list, func(x, y job.PartProgress) int {
		if x.Part < y.Part {
			return -1
		}
		return 1 // no two are of one part
	})
	return list, nil
}

// partsFor gathers what stock and orders say of the parts of a sheet.
func (n *supplies) partsFor(id uuid.UUID, sheet *bom.Sheet, moved []store.StockMovement) map[string]*job.PartAt {
	forJob := id.String()
	all := map[string]*job.PartAt{}
	for i := range sheet.Lines {
		if l := &sheet.Lines[i]; l.Kind == bom.PartLine && l.Code != "" {
			all[l.Code] = &job.PartAt{Part: l.Code, ToppedUp: l.Provision != catalogue.ForTheJob}
		}
	}
	for _, m := range moved {
		if at := all[m.Part]; at != nil {
			at.Issued = append(at.Issued, job.IssuedAt{Stage: m.Stage, Quantity: m.Change.Neg()})
		}
	}
	for i := range n.stock {
		if at := all[n.stock[i].Part]; at != nil {
			at.Kept = n.stock[i].KeptFor(forJob)
		}
	}
	for _, o := range n.contents {
		if !o.State.Open() {
			continue // a draft can still be changed
		}
		for i := range o.Lines {
			l := &o.Lines[i]
			code := l.Code
			if l.InPlaceOf != "" {
				code = l.InPlaceOf
			}
			at := all[code]
			if at == nil {
				continue
			}
			at.Ordered = at.Ordered.Add(l.LeftFor(forJob))
		}
	}
	for i := range n.plan.Buy {
		b := &n.plan.Buy[i]
		at := all[b.Code]
		if at == nil {
			continue
		}
		for _, f := range b.For {
			if f.Want >= 0 && n.wants[f.Want].Job != forJob {
				at.Wanted = at.Wanted.Add(f.Quantity)
			}
		}
	}
	return all
}

func contractPartWhere(p job.PartProgress) openapi.PartWhere {
	return openapi.PartWhere{Part: p.Part, Ordered: plain(p.Ordered), Here: plain(p.Here), Fitted: plain(p.Fitted), CanGoBack: plain(p.CanGoBack)}
}
