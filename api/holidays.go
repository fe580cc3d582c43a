package api

import (
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/rickar/cal/v2"
	"github.com/rickar/cal/v2/gb"

	"wainscot/api/store"
	"wainscot/bom/calendar"
	"wainscot/openapi"
)

// knownRegion is the one whose holidays the library has.
const knownRegion = "england and wales"

// proposeHolidays gives a year's public holidays of a region, to be looked over
// and put into the floor: what is there is what counts.
func (s *Server) proposeHolidays(c *gin.Context) error {
	region := c.DefaultQuery("region", knownRegion)
	var year int
	err := s.readTx(c, func(tx store.ReadTx) error {
		today, err := dayOf(tx)
		if err != nil {
			return err
		}
		text := c.DefaultQuery("year", today[:4])
		year, err = strconv.Atoi(text)
		return err
	})
	if err != nil {
		return err
	}
	out := openapi.ProposedHolidays{Region: openapi.HolidayRegion(region), Year: whole(year), Holidays: []openapi.Closed{},
		Says: "No holidays are proposed for this region: none are known. Enter them as its authority publishes them."}
	if region == knownRegion {
		out.Holidays = mapped(holidays(year), contractClosed)
		out.Says = "As rules and known exceptions have them. Look them over before they are kept: a government may move or add one."
	}
	return answer(c, http.StatusOK, out)
}

// holidays are the bank holidays of England and Wales in a year, on the days
// on which they are had.
func holidays(year int) []calendar.Closed {
	days := cal.NewBusinessCalendar()
	days.AddHoliday(gb.Holidays...)
	var list []calendar.Closed
	for at := time.Date(year, time.January, 1, 12, 0, 0, 0, time.UTC); at.Year() == year; at = at.AddDate(0, 0, 1) {
		_, observed, holiday := days.IsHoliday(at)
		if !observed || holiday == nil {
			continue
		}
		day := at.Format(time.DateOnly)
		list = append(list, calendar.Closed{From: day, Until: day, Name: holiday.Name, Why: calendar.Holiday})
	}
	return list
}
