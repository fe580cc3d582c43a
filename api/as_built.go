package api

import (
	"net/http"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/bom/calendar"
	"wainscot/openapi"
	"wainscot/pricing/job"
)

// asBuiltRoutes are those of vans as they left the workshop.
func asBuiltRoutes() []route {
	everyone := auth.Roles()
	return []route{
		{http.MethodGet, "/v1/jobs/:id/as-built", everyone, (*Server).getAsBuilt},
		{http.MethodPost, "/v1/jobs/:id/checks", []auth.Role{auth.Owner, auth.Workshop}, (*Server).recordCheckMade},
		{http.MethodPost, "/v1/return-visits", []auth.Role{auth.Owner, auth.Workshop, auth.Sales}, (*Server).createReturnVisit},
		{http.MethodGet, "/v1/jobs/:id/return-visit", everyone, (*Server).getReturnVisit},
		{http.MethodGet, "/v1/serials", everyone, (*Server).findSerials},
		{http.MethodGet, "/v1/checks-due", everyone, (*Server).listChecksDue},
	}
}

// Bounds of what is found at once.
const (
	maxFound       = 500
	checksDaysOn   = 31
	laterThanThere = maxFound + 1
)

// getAsBuilt gives a van as it was built, as far as it is.
func (s *Server) getAsBuilt(c *gin.Context) error {
	id, err := pathID(c, "job")
	if err != nil {
		return err
	}
	b, err := s.buildOf(c, id)
	if err != nil {
		return err
	}
	built, err := b.asBuilt()
	if err != nil {
		return err
	}
	var due []store.CheckDue
	err = s.readTx(c, func(tx store.ReadTx) (err error) {
		due, err = tx.ChecksOf(id)
		return err
	})
	if err != nil {
		return err
	}
	return answerOfTheDay(c, http.StatusOK, b.Version, contractAsBuilt(&b.JobEntry, b.plate, &built, due))
}

func (b *build) asBuilt() (job.AsBuilt, error) {
	return b.Content.AsBuilt(b.spec, b.sheet, b.catalogue, b.settings.WarrantyMonths)
}

// checksBegin are the checks that fall due from now on: of a van that has just
// been handed over.
func (b *build) checksBegin(was job.State) ([]job.CheckDue, error) {
	if b.State != job.HandedOver || was == job.HandedOver {
		return nil, nil
	}
	built, err := b.asBuilt()
	return built.ChecksDue, err
}

// recordCheckMade keeps that a check was made, and when it falls due next.
func (s *Server) recordCheckMade(c *gin.Context) error {
	id, err := pathID(c, "job")
	if err != nil {
		return err
	}
	sent, err := decode[openapi.CheckMade](c)
	if err != nil {
		return err
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		if _, err := tx.JobEntry(id); err != nil {
			return reply{}, notFoundIs(err, "job")
		}
		today, err := dayOf(tx.ReadTx)
		if err != nil {
			return reply{}, err
		}
		on := sent.On
		if on == "" {
			on = today
		}
		if on > today {
			return reply{}, brokenTerms("/on", "too_late", "That day has not come.", "Give the day on which it was made.")
		}
		list, err := tx.ChecksOf(id)
		if err != nil {
			return reply{}, err
		}
		for _, due := range list {
			if due.Name != sent.Name {
				continue
			}
			next, err := calendar.AddMonths(on, int(due.EveryMonths))
			if err != nil {
				return reply{}, err
			}
			kept, err := tx.CheckMade(id, sent.Name, on, next)
			if err != nil {
				return reply{}, err
			}
			return reply{status: http.StatusOK, about: "/v1/jobs/" + id.String(), body: contractFallingDue(kept)}, nil
		}
		return reply{}, brokenTerms("/name", "unknown", "No such check falls due on this van.", "Name one of those of its as-built record; it has them once it is handed over.")
	})
}

// findSerials finds the vans of a number or a range.
func (s *Server) findSerials(c *gin.Context) error {
	from, until := c.Query("from"), c.Query("until")
	if until == "" {
		until = from
	}
	var found []store.SerialFound
	var plates map[uuid.UUID]string
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		if found, err = tx.SerialsBetween(c.Query("part"), from, until, laterThanThere); err != nil {
			return err
		}
		plates, err = tx.JobPlates(mapped(found, func(f store.SerialFound) store.JobEntry { return f.JobEntry }))
		return err
	})
	if err != nil {
		return err
	}
	out := openapi.SerialsFound{More: len(found) > maxFound}
	out.Found = mapped(found[:min(len(found), maxFound)], func(f store.SerialFound) openapi.SerialFound {
		return openapi.SerialFound{
			Value: f.Value, Kind: openapi.SerialFoundKind(f.Kind), Part: f.Part, Job: f.ID.String(), Number: whole(int(f.JobEntry.Number)),
			Van: contractID(f.Van), Registration: plates[f.ID], BaseVan: f.BaseVan, Replaced: f.ReplacedBy > 0,
		}
	})
	return answer(c, http.StatusOK, out)
}

// listChecksDue lists the checks that fall due.
func (s *Server) listChecksDue(c *gin.Context) error {
	until := c.Query("until")
	var due []store.CheckDue
	var jobs map[uuid.UUID]store.JobEntry
	var plates map[uuid.UUID]string
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		if until == "" {
			today, err := dayOf(tx)
			if err != nil {
				return err
			}
			if until, err = calendar.Add(today, checksDaysOn); err != nil {
				return err
			}
		}
		if due, err = tx.ChecksDueUntil(until, laterThanThere); err != nil {
			return err
		}
		jobs = map[uuid.UUID]store.JobEntry{}
		var list []store.JobEntry
		for _, d := range due {
			if _, ok := jobs[d.Job]; ok {
				continue
			}
			if jobs[d.Job], err = tx.JobEntry(d.Job); err != nil {
				return err
			}
			list = append(list, jobs[d.Job])
		}
		plates, err = tx.JobPlates(list)
		return err
	})
	if err != nil {
		return err
	}
	out := openapi.ChecksDue{Until: until, More: len(due) > maxFound}
	out.Checks = mapped(due[:min(len(due), maxFound)], func(d store.CheckDue) openapi.CheckOfVan {
		e := jobs[d.Job]
		return openapi.CheckOfVan{
			Job: d.Job.String(), Number: whole(int(e.Number)), Van: contractID(e.Van), Registration: plates[d.Job],
			Name: d.Name, DueOn: d.DueOn, MadeOn: d.MadeOn,
		}
	})
	return answer(c, http.StatusOK, out)
}

func contractFallingDue(d store.CheckDue) openapi.FallingDue {
	return openapi.FallingDue{Name: d.Name, EveryMonths: whole(int(d.EveryMonths)), DueOn: d.DueOn, MadeOn: d.MadeOn}
}

// contractAsBuilt shows a van as built; due is what is kept of its checks since
// it was handed over.
func contractAsBuilt(e *store.JobEntry, plate string, b *job.AsBuilt, due []store.CheckDue) openapi.AsBuilt {
	out := openapi.AsBuilt{
		Job: e.ID.String(), Number: whole(int(e.Number)), Van: contractID(e.Van), Registration: plate, BaseVan: e.BaseVan, HandedOverOn: b.HandedOverOn,
		Features: mapped(b.Features, func(f job.BuiltFeature) openapi.BuiltFeature {
			return openapi.BuiltFeature{Feature: f.Code, Name: f.Name, Count: whole(f.Count), Fitted: whole(f.Fit)}
		}),
		Parts: mapped(b.Parts, func(p job.BuiltPart) openapi.BuiltPart {
			return openapi.BuiltPart{
				Part: p.Part, Name: p.Name, Stage: p.Stage, Unit: p.Unit, Quantity: plain(p.Quantity),
				Serials: mapped(p.Serials, func(s job.Serial) openapi.BuiltSerial {
					return openapi.BuiltSerial{Kind: openapi.BuiltSerialKind(s.Kind), Value: s.Value, On: s.On, Crew: s.Crew}
				}),
				WarrantyMonths: whole(p.WarrantyMonths), WarrantyUntil: p.WarrantyUntil,
			}
		}),
		Stages: mapped(b.Stages, func(w job.BuiltStage) openapi.BuiltStage {
			return openapi.BuiltStage{Stage: w.Stage, Name: w.Name, Crew: w.Crew, Hours: plain(w.Hours)}
		}),
		Tests: mapped(b.Tests, func(t job.Test) openapi.BuiltPaper {
			return openapi.BuiltPaper{Code: t.Of, On: t.On, Signatory: t.Signatory, Crew: t.Crew, Attachment: whole(t.Attachment)}
		}),
		Papers: mapped(b.Papers, func(p job.Paper) openapi.BuiltPaper {
			return openapi.BuiltPaper{Code: p.Code, On: p.On, Signatory: p.Signatory, Attachment: whole(p.Attachment)}
		}),
		Photographs: mapped(b.Photographs, whole),
	}
	if len(due) > 0 {
		out.ChecksDue = mapped(due, contractFallingDue)
		return out
	}
	out.ChecksDue = mapped(b.ChecksDue, func(k job.CheckDue) openapi.FallingDue {
		return openapi.FallingDue{Name: k.Name, EveryMonths: whole(k.EveryMonths), DueOn: k.DueOn, Cites: k.Cites}
	})
	return out
}
