package api

import (
	"net/http"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"
	"github.com/shopspring/decimal"

	"wainscot/api/store"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/bom/supply"
	"wainscot/openapi"
)

// getFit tells how a part suits in the place of another.
func (s *Server) getFit(c *gin.Context) error {
	part, with := c.Param("part"), c.Query("with")
	fit, err := s.fitOf(c, part, with, askedID(c.Query("job")))
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, openapi.Fit{
		Part: part, With: with, MassMoreKg: plain(fit.MassMoreKG), Shows: fit.Shows, Stops: fit.Stops(), Unlike: mapped(fit.Unlike, contractUnlike),
	})
}

// fitOf holds a part against the one it is to stand in for, for a job with what
// that leaves to carry.
func (s *Server) fitOf(c *gin.Context, part, with string, forJob uuid.UUID) (supply.Fit, error) {
	o, err := s.catalogueOffer(c)
	if err != nil {
		return supply.Fit{}, err
	}
	fit, ok := supply.FitOf(o.release.Catalogue(), part, with)
	if !ok {
		return fit, notFound("pair of two parts")
	}
	if forJob == uuid.Nil {
		return fit, nil
	}
	err = s.readTx(c, func(tx store.ReadTx) error {
		kept, err := tx.Job(forJob)
		if err != nil {
			return notFoundIs(err, "job")
		}
		content, err := kept.Content()
		if err != nil {
			return err
		}
		text, err := readAgreed(tx, kept.JobEntry, content)
		if err != nil || text == nil {
			return err
		}
		now, err := text.now()
		if err != nil {
			return err
		}
		sheet := &now.Van.Sheet
		var quantity decimal.Decimal
		for i := range sheet.Lines {
			if l := &sheet.Lines[i]; l.Code == part && l.Provision != "" && l.Provision != catalogue.Consumable {
				quantity = quantity.Add(l.Quantity)
			}
		}
		fit = fit.Loaded(quantity, sheet.Mass.LeftKG)
		return nil
	})
	return fit, err
}

// listSubstitutes gives a page of substitutes, the newest first.
func (s *Server) listSubstitutes(c *gin.Context) error {
	list, next, err := newestFirst(s, c, "substitutes", store.ReadTx.Substitutes)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, openapi.Substitutes{Substitutes: mapped(list, contractSubstitute), Next: next})
}

// getSubstitute gives one with each difference.
func (s *Server) getSubstitute(c *gin.Context) error {
	found, err := theOne(s, c, "substitute", store.ReadTx.Substitute)
	if err != nil {
		return err
	}
	body := contractSubstitute(found)
	o, err := s.catalogueOffer(c)
	if err != nil {
		return err
	}
	if fit, ok := supply.FitOf(o.release.Catalogue(), found.Part, found.With); ok {
		body.Unlike = mapped(fit.Unlike, contractUnlike)
	}
	return answerOfTheDay(c, http.StatusOK, found.Version, body)
}

// addSubstitute takes a part in the place of another, once the customer has
// said yes where they chose it.
func (s *Server) addSubstitute(c *gin.Context) error {
	asked, err := decode[openapi.NewSubstitute](c)
	if err != nil {
		return err
	}
	forJob := askedID(asked.Job)
	fit, err := s.fitOf(c, asked.Part, asked.With, forJob)
	if err != nil {
		return err
	}
	n := store.Substitute{State: store.SubstituteAgreed, Part: asked.Part, With: asked.With, Job: forJob, From: asked.From, Until: asked.Until, Shows: fit.Shows || asked.Shows}
	if n.Shows {
		n.State = store.SubstituteWaiting
	}
	if faults := substituteFaults(&n, &fit); len(faults) > 0 {
		return supplyRefused(faults)
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		made, err := tx.AddSubstitute(n)
		if err != nil {
			return reply{}, err
		}
		body := contractSubstitute(made)
		body.Unlike = mapped(fit.Unlike, contractUnlike)
		return reply{status: http.StatusCreated, location: "/v1/substitutes/" + made.ID.String(), version: made.Version, body: body}, nil
	})
}

func substituteFaults(n *store.Substitute, fit *supply.Fit) (faults document.Faults) {
	for _, u := range fit.Unlike {
		if u.Stops {
			faults = append(faults, document.Fault{Code: "does_not_fit", At: "with", Reason: "The " + string(u.What) + ": " + u.Was + ", and " + u.Is + ".", Remedy: "Take another part."})
		}
	}
	switch {
	case n.Job == uuid.Nil && n.From == "":
		faults = append(faults, document.Fault{Code: "for_whom", At: "from", Reason: "Nothing says for which job, or from which day on.", Remedy: "Name one of the two."})
	case n.Job != uuid.Nil && (n.From != "" || n.Until != ""):
		faults = append(faults, document.Fault{Code: "for_whom", At: "from", Reason: "One for a job has no days.", Remedy: "Leave out the days, or the job."})
	case n.Until != "" && n.Until < n.From:
		faults = append(faults, document.Fault{Code: "days", At: "until", Reason: "It ends before it begins.", Remedy: "Name a later day."})
	}
	return faults
}

// answerSubstitute keeps the customer's answer.
func (s *Server) answerSubstitute(c *gin.Context) error {
	asked, err := decode[openapi.SubstituteAnswer](c)
	if err != nil {
		return err
	}
	return s.substituteStep(c, store.SubstituteWaiting, func(n *store.Substitute, today string) error {
		if n.State = store.SubstituteRefused; asked.Yes {
			n.State = store.SubstituteAgreed
		}
		if n.AgreedOn = today; asked.On != "" {
			n.AgreedOn = asked.On
		}
		if n.AgreedOn > today {
			return supplyRefused(document.Faults{{Code: "to_come", At: "on", Reason: "That day is still to come.", Remedy: "Write the day of the answer."}})
		}
		return nil
	})
}

// endSubstitute lets the part itself be taken again.
func (s *Server) endSubstitute(c *gin.Context) error {
	return s.substituteStep(c, store.SubstituteAgreed, func(n *store.Substitute, today string) error {
		if n.Job == uuid.Nil && n.From <= today {
			n.Until = today
			return nil
		}
		n.State = store.SubstituteEnded
		return nil
	})
}

func (s *Server) substituteStep(c *gin.Context, from store.SubstituteState, step func(n *store.Substitute, today string) error) error {
	id, version, err := pathVersion(c, "substitute")
	if err != nil {
		return err
	}
	err = s.keep(c, func(tx store.WriteTx) (reply, error) {
		n, err := tx.Substitute(id)
		if err != nil {
			return reply{}, err
		}
		if n.Version != version {
			return reply{}, store.ErrStale
		}
		if n.State != from {
			return reply{}, &problem{code: openapi.ProblemCodeStateConflict, detail: "The substitute is " + string(n.State) + ".", remedy: "Read it again."}
		}
		today, err := dayOf(tx.ReadTx)
		if err != nil {
			return reply{}, err
		}
		if err := step(&n, today); err != nil {
			return reply{}, err
		}
		if n, err = tx.ChangeSubstitute(n); err != nil {
			return reply{}, err
		}
		return reply{status: http.StatusOK, version: n.Version, body: contractSubstitute(n)}, nil
	})
	return notFoundIs(err, "substitute")
}

func contractSubstitute(n store.Substitute) openapi.Substitute {
	return openapi.Substitute{
		Id: n.ID.String(), Version: n.Version, CreatedAt: n.CreatedAt, ChangedAt: n.ChangedAt, State: openapi.SubstituteState(n.State),
		Part: n.Part, With: n.With, Job: contractID(n.Job), From: n.From, Until: n.Until, Shows: n.Shows, AgreedOn: n.AgreedOn,
	}
}

func contractUnlike(u supply.Unlike) openapi.Unlike {
	return openapi.Unlike{What: openapi.UnlikeWhat(u.What), Was: u.Was, Is: u.Is, Stops: u.Stops}
}
