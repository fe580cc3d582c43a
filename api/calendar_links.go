package api

import (
	"errors"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/bom/calendar"
	"wainscot/openapi"
)

// calendarRoutes are those of the slots as a calendar program reads them, which
// cannot sign in: by a secret link, as customers read offers. It shows no name
// of a person and no plate, as the feed with a token shows none.
func calendarRoutes() []route {
	everyone := auth.Roles()
	return []route{
		{http.MethodGet, "/v1/calendar-links", everyone, (*Server).listCalendarLinks},
		{http.MethodPost, "/v1/calendar-links", everyone, (*Server).createCalendarLink},
		{http.MethodPost, "/v1/calendar-links/withdraw", everyone, (*Server).withdrawCalendarLinks},
		{http.MethodGet, "/v1/calendar/:link/slots.ics", nil, (*Server).getCalendar},
	}
}

// What a calendar program is shown, and how many links somebody may have: one
// for each of their programs.
const (
	calendarDaysBack = 31
	calendarDaysOn   = 365
	mostCalendars    = 10
)

// byCalendarLink is the door for calendar programs. A wrong link, one that was
// withdrawn and one of somebody who has left cannot be told apart.
func (s *Server) byCalendarLink(c *gin.Context) (auth.Principal, error) {
	b, err := linkText.DecodeString(c.Param("link"))
	if err != nil || len(b) != len(uuid.Nil)+linkSecretBytes {
		return auth.Principal{}, noSuchCalendar()
	}
	p, err := s.store.FindCalendarLink(c.Request.Context(), uuid.UUID(b[:len(uuid.Nil)]), linkHash(b))
	if errors.Is(err, store.ErrNotFound) {
		return p, noSuchCalendar()
	}
	return p, err
}

func noSuchCalendar() *problem {
	return &problem{code: openapi.ProblemCodeNotFound, detail: "There is no calendar under this link.", remedy: "Look whether the whole link was copied, or make a new one."}
}

// listCalendarLinks gives one's own.
func (s *Server) listCalendarLinks(c *gin.Context) error {
	var list []store.CalendarLink
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		list, err = tx.CalendarLinks()
		return err
	})
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, openapi.CalendarLinks{Links: mapped(list, func(l store.CalendarLink) openapi.CalendarLinkKept {
		return openapi.CalendarLinkKept{Id: l.ID.String(), MadeAt: l.MadeAt}
	})})
}

// createCalendarLink makes one of one's own. Its secret is shown once.
func (s *Server) createCalendarLink(c *gin.Context) error {
	word, sha, err := newLink(principal(c).Workshop)
	if err != nil {
		return err
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		there, err := tx.CalendarLinks()
		if err != nil {
			return reply{}, err
		}
		if len(there) >= mostCalendars {
			return reply{}, &problem{code: openapi.ProblemCodeStateConflict, detail: "There are " + strconv.Itoa(len(there)) + " calendar links of yours.", remedy: "Withdraw them, and make those that are needed."}
		}
		made, err := tx.MakeCalendarLink(sha)
		return reply{
			status: http.StatusCreated, location: "/v1/calendar-links", sealed: true,
			body: openapi.CalendarLink{Id: made.ID.String(), Link: word, Path: "/v1/calendar/" + word + "/slots.ics"},
		}, err
	})
}

// withdrawCalendarLinks ends all of one's own.
func (s *Server) withdrawCalendarLinks(c *gin.Context) error {
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		return reply{status: http.StatusNoContent}, tx.WithdrawCalendarLinks()
	})
}

// getCalendar gives the slots of the last month and the next twelve.
func (s *Server) getCalendar(c *gin.Context) error {
	return s.sendSlotsFeed(c, func(tx store.ReadTx) (from, until string, err error) {
		today, err := dayOf(tx)
		if err != nil {
			return "", "", err
		}
		if from, err = calendar.Add(today, -calendarDaysBack); err != nil {
			return "", "", err
		}
		until, err = calendar.Add(today, calendarDaysOn)
		return from, until, err
	})
}
