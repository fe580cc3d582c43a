package api

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"wainscot/bom"
	"wainscot/bom/options"
	"wainscot/openapi"
)

// findConflicts answers all that is wrong with choices, and keeps nothing.
func (s *Server) findConflicts(c *gin.Context) error {
	asked, err := decode[openapi.ConflictsRequest](c)
	if err != nil {
		return err
	}
	o, err := s.catalogueOffer(c)
	if err != nil {
		return err
	}
	van, err := domainVan(asked.Van)
	if err != nil {
		return err
	}
	found, faults, err := bom.FindConflicts(o.release, van, domainChoices(asked.Choices), 0)
	if err != nil {
		return engineProblem(err)
	}
	if len(faults) > 0 {
		return choicesRefused(faults)
	}
	conflicts := openapi.Conflicts{
		Release: releaseOf(o.number, o.release), Engine: options.Engine, Said: mapped(found.Said, contractSaid), More: found.More,
		Conflicts: mapped(found.List, func(k bom.Conflict) openapi.Conflict {
			return openapi.Conflict{Choices: mapped(k.At, fieldOf), Why: contractTold(k.Why)}
		}),
	}
	if most := maxConflicts; len(conflicts.Conflicts) > most {
		conflicts.Conflicts, conflicts.More = conflicts.Conflicts[:most], true
	}
	return answer(c, http.StatusOK, conflicts)
}

// maxConflicts is the contract's bound. The engine stops at fewer; only what
// the van is and has could contradict itself more often.
const maxConflicts = 100
