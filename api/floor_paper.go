package api

import (
	"bytes"
	"fmt"

	"github.com/gin-gonic/gin"

	"wainscot/api/paper"
	"wainscot/api/store"
	"wainscot/bom/schedule"
	"wainscot/pricing/job"
)

const kindICS = "text/calendar; charset=utf-8"

// shownFloor is what plan and feed show of some days.
type shownFloor struct {
	workshop    store.Workshop
	from, until string
	floor       schedule.Floor
	vans        []paper.PlannedVan
}

// showFloor reads it. A van is called by its job and what kind it is: neither
// its plate nor whose it is leaves the workshop with a calendar.
func (s *Server) showFloor(c *gin.Context, days func(tx store.ReadTx) (from, until string, err error)) (shownFloor, error) {
	var out shownFloor
	kinds := map[string]string{}
	if o, err := s.catalogueOffer(c); err == nil { // without a catalogue there are no jobs
		for _, b := range o.release.Catalogue().BaseVans {
			kinds[b.Code] = b.Name
		}
	}
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		if out.workshop, err = tx.Workshop(); err != nil {
			return err
		}
		if out.from, out.until, err = days(tx); err != nil {
			return err
		}
		floor, err := tx.Floor()
		if err != nil {
			return err
		}
		out.floor = floor.Content
		slots, err := tx.SlotsOn(out.from, out.until)
		if err != nil {
			return err
		}
		for i := range slots {
			entry, err := tx.JobEntry(slots[i].Job)
			if err != nil {
				return err
			}
			kind := kinds[entry.BaseVan]
			if kind == "" {
				kind = entry.BaseVan
			}
			out.vans = append(out.vans, paper.PlannedVan{
				UID: slots[i].Job.String(), Version: slots[i].Version, ChangedAt: slots[i].ChangedAt,
				Name: fmt.Sprintf("Job %d: %s", entry.Number, kind), Short: fmt.Sprint(entry.Number), Firm: slots[i].State == schedule.Firm || entry.State != job.Agreed, Days: slots[i].Days,
			})
		}
		return nil
	})
	return out, err
}

// getFloorPlan draws the places by day.
func (s *Server) getFloorPlan(c *gin.Context) error {
	f, err := s.showFloor(c, func(tx store.ReadTx) (string, string, error) { return s.daysAsked(c, tx, paper.MostFloorDays-1) })
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := paper.FloorSVG(&b, paper.FloorPlan{
		Title: f.workshop.Name, From: f.from, Until: f.until, Calendar: f.floor.Calendar, Places: f.floor.Places, Vans: f.vans,
	}); err != nil {
		return fmt.Errorf("plan of the floor: %w", err)
	}
	c.Header("Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'")
	return sendFile(c, kindSVG, "floor-"+f.from+".svg", b.Bytes())
}

// getSlotsFeed gives the slots as a calendar.
func (s *Server) getSlotsFeed(c *gin.Context) error {
	return s.sendSlotsFeed(c, func(tx store.ReadTx) (string, string, error) { return s.daysAsked(c, tx, mostListedDays) })
}

func (s *Server) sendSlotsFeed(c *gin.Context, days func(tx store.ReadTx) (from, until string, err error)) error {
	f, err := s.showFloor(c, days)
	if err != nil {
		return err
	}
	feed := paper.SlotFeed{UID: f.workshop.ID.String(), Title: f.workshop.Name, Places: map[string]string{}, From: f.from, Until: f.until, MadeAt: s.now(), Vans: f.vans}
	for _, p := range f.floor.Places {
		feed.Places[p.Code] = p.Name
	}
	var b bytes.Buffer
	if err := paper.SlotsICS(&b, feed); err != nil {
		return fmt.Errorf("slots as a calendar: %w", err)
	}
	return sendFile(c, kindICS, "slots.ics", b.Bytes())
}
