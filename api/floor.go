package api

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"
	"github.com/shopspring/decimal"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/bom/calendar"
	"wainscot/bom/document"
	"wainscot/bom/schedule"
	"wainscot/openapi"
)

// floorRoutes are those of places, people and slots.
func floorRoutes() []route {
	everyone := auth.Roles()
	foremen := []auth.Role{auth.Owner, auth.Workshop}
	bookers := []auth.Role{auth.Owner, auth.Sales, auth.Workshop}
	return []route{
		{http.MethodGet, "/v1/floor", everyone, (*Server).getFloor},
		{http.MethodPut, "/v1/floor", foremen, (*Server).changeFloor},
		{http.MethodGet, "/v1/floor/holidays", everyone, (*Server).proposeHolidays},
		{http.MethodGet, "/v1/floor/overbooked", everyone, (*Server).listOverbooked},
		{http.MethodGet, "/v1/floor/plan.svg", everyone, (*Server).getFloorPlan},
		{http.MethodGet, "/v1/crew", everyone, (*Server).listCrew},
		{http.MethodPost, "/v1/crew", foremen, (*Server).addCrewMember},
		{http.MethodGet, "/v1/crew/:id", everyone, (*Server).getCrewMember},
		{http.MethodPut, "/v1/crew/:id", foremen, (*Server).changeCrewMember},
		{http.MethodGet, "/v1/jobs/:id/network", everyone, (*Server).getNetwork},
		{http.MethodGet, "/v1/jobs/:id/earliest-slot", everyone, (*Server).getEarliestSlot},
		{http.MethodGet, "/v1/quotes/:id/revisions/:revision/vans/:place/earliest-slot", everyone, (*Server).getEarliestQuotedSlot},
		{http.MethodGet, "/v1/jobs/:id/slot", everyone, (*Server).getSlot},
		{http.MethodPost, "/v1/jobs/:id/slot", bookers, (*Server).bookSlot},
		{http.MethodPut, "/v1/jobs/:id/slot", bookers, (*Server).moveSlot},
		{http.MethodPost, "/v1/jobs/:id/slot/preview", bookers, (*Server).previewSlot},
		{http.MethodPost, "/v1/jobs/:id/slot/standstill", bookers, (*Server).planStandstill},
		{http.MethodPost, "/v1/jobs/:id/slot/standstill/preview", bookers, (*Server).previewStandstill},
		{http.MethodPost, "/v1/jobs/:id/slot/confirm", bookers, (*Server).confirmSlot},
		{http.MethodPost, "/v1/jobs/:id/slot/release", bookers, (*Server).releaseSlot},
		{http.MethodGet, "/v1/slots", everyone, (*Server).listSlots},
		{http.MethodGet, "/v1/slots.ics", everyone, (*Server).getSlotsFeed},
	}
}

// getFloor gives calendar and places.
func (s *Server) getFloor(c *gin.Context) error {
	var floor store.Floor
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		floor, err = tx.Floor()
		return err
	})
	if err != nil {
		return err
	}
	return answerVersion(c, http.StatusOK, floor.Version, contractFloor(floor))
}

// changeFloor says all of calendar and places anew.
func (s *Server) changeFloor(c *gin.Context) error {
	asked, err := decode[openapi.FloorContent](c)
	if err != nil {
		return err
	}
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	content := domainFloor(asked)
	stages, err := s.stageCodes(c, content)
	if err != nil {
		return err
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		whole, err := wholeFloor(tx.ReadTx)
		if err != nil {
			return reply{}, err
		}
		with := content
		with.Crew = whole.Crew
		if faults := append(with.Check(), unknownStages(content, stages)...); len(faults) > 0 {
			return reply{}, floorRefused(faults)
		}
		now, err := tx.ChangeFloor(version, content)
		return reply{status: http.StatusOK, version: now.Version, body: contractFloor(now)}, err
	})
}

// stageCodes are those that the catalogue has, where the floor names any.
func (s *Server) stageCodes(c *gin.Context, f schedule.Floor) ([]string, error) {
	if !slices.ContainsFunc(f.Places, func(p schedule.Place) bool { return len(p.Stages) > 0 }) {
		return nil, nil
	}
	o, err := s.catalogueOffer(c)
	if err != nil {
		return nil, err
	}
	var codes []string
	for _, stage := range o.release.Catalogue().Stages {
		codes = append(codes, stage.Code)
	}
	return codes, nil
}

func unknownStages(f schedule.Floor, codes []string) document.Faults {
	var faults document.Faults
	for i, p := range f.Places {
		for j, code := range p.Stages {
			if !slices.Contains(codes, code) {
				faults = append(faults, document.Fault{Code: "unknown_stage", At: document.Join(document.Join("places", i+1), "stages", j+1),
					Reason: fmt.Sprintf("The catalogue has no stage %q.", code), Remedy: document.Suggest(code, codes, "Name one it has.")})
			}
		}
	}
	return faults
}

func floorRefused(faults document.Faults) error {
	return refused(openapi.ProblemCodeTermsRefused, "The floor cannot be so.", faults, "")
}

// listOverbooked tells what is booked beyond what there is.
func (s *Server) listOverbooked(c *gin.Context) error {
	var list []schedule.Overbooking
	err := s.onPlan(c, func(tx store.ReadTx, p *schedule.Plan) error {
		from, err := s.dayAsked(c, tx, "from")
		list = p.Overbooked(from)
		return err
	})
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, openapi.Overbooked{Overbooked: mapped(list, func(o schedule.Overbooking) openapi.Overbooking {
		return openapi.Overbooking{Day: o.Day, Place: o.Place, Trades: append([]string{}, o.Trades...), Jobs: o.Slots, Says: o.Says}
	})})
}

// dayAsked is a day of the query, today where it is left out.
func (s *Server) dayAsked(c *gin.Context, tx store.ReadTx, name string) (string, error) {
	if day := c.Query(name); day != "" {
		return day, checkedDay("query/"+name, day)
	}
	return dayOf(tx)
}

// checkedDay: the contract has checked that it is a date; one out of all
// bounds is none to us.
func checkedDay(field, day string) error {
	if calendar.Valid(day) {
		return nil
	}
	return brokenField(field, "not_allowed", "It is not a day from 1900 to 2199.", "Write it as year-month-day.")
}

// daysAsked are the first and last day of a span asked for.
func (s *Server) daysAsked(c *gin.Context, tx store.ReadTx, most int) (from, until string, err error) {
	if from, err = s.dayAsked(c, tx, "from"); err != nil {
		return "", "", err
	}
	last, err := calendar.Add(from, most)
	if err != nil {
		return "", "", brokenField("query/from", "not_allowed", "It lies too far ahead.", "Name an earlier day.")
	}
	if until = c.Query("until"); until == "" {
		return from, min(last, addDays(from, shownDays)), nil
	}
	if err := checkedDay("query/until", until); err != nil {
		return "", "", err
	}
	if until < from || until > last {
		return "", "", brokenField("query/until", "not_allowed", "It lies before the first day, or more than "+strconv.Itoa(most)+" days after it.", "Name a day in between.")
	}
	return from, until, nil
}

func addDays(day string, days int) string {
	later, _ := calendar.Add(day, days) // the caller has been further
	return later
}

// shownDays after the first, where nobody says.
const shownDays = 27

func domainFloor(f openapi.FloorContent) schedule.Floor {
	out := schedule.Floor{
		Calendar: calendar.Calendar{HolidaysUntil: f.Calendar.HolidaysUntil}, Places: []schedule.Place{}, MostIdleDays: int(f.MostIdleDays),
	}
	for _, w := range f.Calendar.Week {
		out.Calendar.Week = append(out.Calendar.Week, calendar.Weekday(w))
	}
	for _, o := range f.Calendar.Closed {
		out.Calendar.Closed = append(out.Calendar.Closed, calendar.Closed{From: o.From, Until: o.Until, Name: o.Name, Why: calendar.ClosureKind(o.Why)})
	}
	slices.SortStableFunc(out.Calendar.Closed, func(a, b calendar.Closed) int { return strings.Compare(a.From, b.From) })
	for _, p := range f.Places {
		out.Places = append(out.Places, schedule.Place{
			Code: p.Code, Name: p.Name, Kind: schedule.PlaceKind(p.Kind), Vans: int(p.Vans),
			MostLengthMM: int(p.MostLengthMm), MostHeightMM: int(p.MostHeightMm), Stages: p.Stages,
		})
	}
	return out
}

func contractFloor(f store.Floor) openapi.Floor {
	return openapi.Floor{
		Version: f.Version, ChangedAt: f.ChangedAt, MostIdleDays: whole(f.Content.MostIdleDays),
		Calendar: openapi.WorkingDays{
			Week:          mapped(f.Content.Calendar.Week, func(w calendar.Weekday) openapi.Weekday { return openapi.Weekday(w) }),
			Closed:        mapped(f.Content.Calendar.Closed, contractClosed),
			HolidaysUntil: f.Content.Calendar.HolidaysUntil,
		},
		Places: mapped(f.Content.Places, func(p schedule.Place) openapi.FloorPlace {
			return openapi.FloorPlace{
				Code: p.Code, Name: p.Name, Kind: openapi.FloorPlaceKind(p.Kind), Vans: whole(p.Vans),
				MostLengthMm: whole(p.MostLengthMM), MostHeightMm: whole(p.MostHeightMM), Stages: append([]string{}, p.Stages...),
			}
		}),
	}
}

func contractClosed(o calendar.Closed) openapi.Closed {
	return openapi.Closed{From: o.From, Until: o.Until, Name: o.Name, Why: openapi.ClosedWhy(o.Why)}
}

// listCrew gives the whole crew.
func (s *Server) listCrew(c *gin.Context) error {
	var list []store.CrewMember
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		list, err = tx.Crew()
		return err
	})
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, openapi.Crew{Crew: mapped(list, contractCrewMember)})
}

// getCrewMember gives one of the crew.
func (s *Server) getCrewMember(c *gin.Context) error {
	found, err := theOne(s, c, "member of the crew", store.ReadTx.CrewMember)
	if err != nil {
		return err
	}
	return answerVersion(c, http.StatusOK, found.Version, contractCrewMember(found))
}

// addCrewMember keeps somebody new.
func (s *Server) addCrewMember(c *gin.Context) error {
	asked, err := s.crewAsked(c)
	if err != nil {
		return err
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		if err := crewMay(tx, uuid.Nil, asked); err != nil {
			return reply{}, err
		}
		added, err := tx.AddCrewMember(asked)
		return reply{status: http.StatusCreated, location: "/v1/crew/" + added.ID.String(), version: added.Version, body: contractCrewMember(added)}, err
	})
}

// changeCrewMember says all of somebody anew.
func (s *Server) changeCrewMember(c *gin.Context) error {
	asked, err := s.crewAsked(c)
	if err != nil {
		return err
	}
	id, version, err := pathVersion(c, "member of the crew")
	if err != nil {
		return err
	}
	err = s.keep(c, func(tx store.WriteTx) (reply, error) {
		if _, err := tx.CrewMember(id); err != nil {
			return reply{}, err
		}
		if err := crewMay(tx, id, asked); err != nil {
			return reply{}, err
		}
		now, err := tx.ChangeCrewMember(id, version, asked)
		return reply{status: http.StatusOK, version: now.Version, body: contractCrewMember(now)}, err
	})
	return notFoundIs(err, "member of the crew")
}

// crewMay holds somebody, in the place of who has the id, against the floor.
func crewMay(tx store.WriteTx, id uuid.UUID, c store.CrewContent) error {
	floor, err := tx.Floor()
	if err != nil {
		return err
	}
	crew, err := tx.Crew()
	if err != nil {
		return err
	}
	with := floor.Content
	with.Crew = []schedule.Member{c.Member} // first, so that faults say where in what was sent
	for i := range crew {
		if crew[i].ID != id {
			with.Crew = append(with.Crew, crew[i].Leaving())
		}
	}
	faults := with.Check()
	for i := range faults {
		faults[i].At = strings.TrimPrefix(faults[i].At, "crew/1/")
	}
	if len(faults) > 0 {
		return refused(openapi.ProblemCodeTermsRefused, "Somebody cannot be of the crew so.", faults, "")
	}
	return nil
}

// crewAsked reads what is said of somebody; their trades are the catalogue's.
func (s *Server) crewAsked(c *gin.Context) (store.CrewContent, error) {
	asked, err := decode[openapi.CrewContent](c)
	if err != nil {
		return store.CrewContent{}, err
	}
	out := store.CrewContent{Name: asked.Name, LeftOn: asked.LeftOn, Member: schedule.Member{PacePercent: int(asked.PacePercent)}}
	if asked.LeftOn != "" {
		if err := checkedDay("/left_on", asked.LeftOn); err != nil {
			return out, err
		}
	}
	o, err := s.catalogueOffer(c)
	if err != nil {
		return out, err
	}
	var trades []string
	for _, t := range o.release.Catalogue().Trades {
		trades = append(trades, t.Code)
	}
	var faults document.Faults
	for i, t := range asked.Trades {
		if !slices.Contains(trades, t.Trade) {
			faults = append(faults, document.Fault{Code: "unknown_trade", At: document.Join("trades", i+1) + "/trade",
				Reason: fmt.Sprintf("The catalogue has no trade %q.", t.Trade), Remedy: document.Suggest(t.Trade, trades, "Name one it has.")})
		}
		out.Member.Trades = append(out.Member.Trades, schedule.MemberTrade{Trade: t.Trade, Alone: t.Alone})
	}
	if len(faults) > 0 {
		return out, refused(openapi.ProblemCodeTermsRefused, "Somebody cannot be of the crew so.", faults, "")
	}
	for _, h := range asked.Hours {
		out.Member.Hours = append(out.Member.Hours, schedule.WeekdayHours{Weekday: calendar.Weekday(h.Weekday), Hours: askedHours(h.Hours)})
	}
	for _, l := range asked.Leave {
		out.Member.Leave = append(out.Member.Leave, schedule.Period{From: l.From, Until: l.Until})
	}
	for _, o := range asked.Overtime {
		out.Member.Overtime = append(out.Member.Overtime, schedule.Overtime{Day: o.Day, Hours: askedHours(o.Hours)})
	}
	return out, nil
}

// askedHours reads hours whose form the contract has checked.
func askedHours(text string) decimal.Decimal {
	h, _ := decimal.NewFromString(text)
	return h
}

func contractCrewMember(m store.CrewMember) openapi.CrewMember {
	pace := m.Member.PacePercent
	if pace == 0 {
		pace = 100
	}
	return openapi.CrewMember{
		Id: m.ID.String(), Version: m.Version, CreatedAt: m.CreatedAt, ChangedAt: m.ChangedAt, Name: m.Name, LeftOn: m.LeftOn, PacePercent: whole(pace),
		Trades: mapped(m.Member.Trades, func(t schedule.MemberTrade) openapi.CrewTrade {
			return openapi.CrewTrade{Trade: t.Trade, Alone: t.Alone}
		}),
		Hours: mapped(m.Member.Hours, func(h schedule.WeekdayHours) openapi.WeekdayHours {
			return openapi.WeekdayHours{Weekday: openapi.Weekday(h.Weekday), Hours: plain(h.Hours)}
		}),
		Leave:    mapped(m.Member.Leave, func(p schedule.Period) openapi.Period { return openapi.Period{From: p.From, Until: p.Until} }),
		Overtime: mapped(m.Member.Overtime, func(o schedule.Overtime) openapi.Overtime { return openapi.Overtime{Day: o.Day, Hours: plain(o.Hours)} }),
	}
}
