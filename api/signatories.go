package api

import (
	"fmt"
	"net/http"
	"slices"

	"github.com/gin-gonic/gin"

	"wainscot/api/store"
	"wainscot/bom/calendar"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/openapi"
)

// listSignatories gives all who may sign certificates.
func (s *Server) listSignatories(c *gin.Context) error {
	var list []store.Signatory
	var day string
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		if day, err = dayOf(tx); err != nil {
			return err
		}
		list, err = tx.Signatories()
		return err
	})
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, openapi.Signatories{Signatories: mapped(list, func(g store.Signatory) openapi.Signatory { return contractSignatory(&g, day) })})
}

// getSignatory gives one of them.
func (s *Server) getSignatory(c *gin.Context) error {
	var day string
	found, err := theOne(s, c, "signatory", store.ReadTx.Signatory)
	if err == nil {
		err = s.readTx(c, func(tx store.ReadTx) (err error) {
			day, err = dayOf(tx)
			return err
		})
	}
	if err != nil {
		return err
	}
	return answerOfTheDay(c, http.StatusOK, found.Version, contractSignatory(&found, day))
}

// addSignatory keeps somebody who may sign.
func (s *Server) addSignatory(c *gin.Context) error {
	sent, err := decode[openapi.NewSignatory](c)
	if err != nil {
		return err
	}
	content := store.SignatoryContent{Name: sent.Name, Firm: sent.Firm, ExpiresOn: sent.ExpiresOn, Signs: sent.Signs}
	if err := s.maySign(c, &content); err != nil {
		return err
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		day, err := dayOf(tx.ReadTx)
		if err != nil {
			return reply{}, err
		}
		added, err := tx.AddSignatory(sent.Register, sent.RegisterNumber, content)
		if err != nil {
			return reply{}, err
		}
		return reply{status: http.StatusCreated, location: "/v1/signatories/" + added.ID.String(), version: added.Version, body: contractSignatory(&added, day)}, nil
	})
}

// changeSignatory says all of a signatory anew but the register number.
func (s *Server) changeSignatory(c *gin.Context) error {
	id, version, err := pathVersion(c, "signatory")
	if err != nil {
		return err
	}
	sent, err := decode[openapi.SignatoryContent](c)
	if err != nil {
		return err
	}
	content := store.SignatoryContent{Name: sent.Name, Firm: sent.Firm, ExpiresOn: sent.ExpiresOn, Signs: sent.Signs}
	if err := s.maySign(c, &content); err != nil {
		return err
	}
	err = s.keep(c, func(tx store.WriteTx) (reply, error) {
		day, err := dayOf(tx.ReadTx)
		if err != nil {
			return reply{}, err
		}
		now, err := tx.ChangeSignatory(id, version, content)
		if err != nil {
			return reply{}, err
		}
		return reply{status: http.StatusOK, version: now.Version, body: contractSignatory(&now, day)}, nil
	})
	return notFoundIs(err, "signatory")
}

// maySign holds what somebody signs against the catalogue.
func (s *Server) maySign(c *gin.Context, content *store.SignatoryContent) error {
	release, err := s.releaseOrLatest(c, 0)
	if err != nil {
		return err
	}
	var faults document.Faults
	if content.ExpiresOn != "" && !calendar.Valid(content.ExpiresOn) {
		faults = append(faults, document.Fault{Code: "day", At: "expires_on", Reason: fmt.Sprintf("%q is not a day.", content.ExpiresOn), Remedy: "Write it as year, month and day: 2027-01-11."})
	}
	for i, code := range content.Signs {
		at := document.Join("signs", i+1)
		switch {
		case !slices.ContainsFunc(release.Catalogue().OutsideWork, func(w catalogue.OutsideWork) bool { return w.Code == code }):
			faults = append(faults, document.Fault{Code: "unknown_code", At: at, Reason: fmt.Sprintf("There is no outside work %q.", code), Remedy: "Name outside work of the catalogue."})
		case slices.Contains(content.Signs[:i], code):
			faults = append(faults, document.Fault{Code: "given_twice", At: at, Reason: fmt.Sprintf("%q is listed twice.", code), Remedy: "List each once."})
		}
	}
	if len(faults) > 0 {
		return buildRefused(faults)
	}
	return nil
}

func contractSignatory(g *store.Signatory, day string) openapi.Signatory {
	return openapi.Signatory{
		Id: g.ID.String(), Version: g.Version, CreatedAt: g.CreatedAt, ChangedAt: g.ChangedAt, Name: g.Name, Firm: g.Firm,
		Register: g.Register, RegisterNumber: g.RegisterNumber, ExpiresOn: g.ExpiresOn, Signs: append([]string{}, g.Signs...),
		Expired: g.ExpiresOn != "" && g.ExpiresOn < day,
	}
}
