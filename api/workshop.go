package api

import (
	"net/http"
	"slices"

	"github.com/gin-gonic/gin"

	"wainscot/api/store"
	"wainscot/openapi"
	"wainscot/pricing/job"
	"wainscot/pricing/quote"
)

// getWorkshop gives the workshop and what it has set.
func (s *Server) getWorkshop(c *gin.Context) error {
	var workshop store.Workshop
	var settings store.Settings
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		if workshop, err = tx.Workshop(); err != nil {
			return err
		}
		settings, err = tx.Settings()
		return err
	})
	if err != nil {
		return err
	}
	return answerVersion(c, http.StatusOK, settings.Version, contractSettings(workshop, settings))
}

// changeWorkshop sets everything anew. What is left out is set to nothing, but
// for what there is always some rule of.
func (s *Server) changeWorkshop(c *gin.Context) error {
	asked, err := decode[openapi.WorkshopChange](c)
	if err != nil {
		return err
	}
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	content := domainSettings(asked)
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		was, err := tx.Settings()
		if err != nil {
			return reply{}, err
		}
		keepUnsaid(&content, &asked, was.SettingsContent)
		now, err := tx.ChangeSettings(version, asked.Name, content)
		if err != nil {
			return reply{}, err
		}
		workshop, err := tx.Workshop()
		return reply{status: http.StatusOK, version: now.Version, body: contractSettings(workshop, now)}, err
	})
}

// keepUnsaid leaves as it was what there is always some rule of.
func keepUnsaid(c *store.SettingsContent, asked *openapi.WorkshopChange, was store.SettingsContent) {
	if asked.CancellationRights == nil {
		c.CancellationRights = was.CancellationRights
	}
	if asked.Rework == nil {
		c.Rework = was.Rework
	}
	if asked.WarrantyMonths == 0 {
		c.WarrantyMonths = was.WarrantyMonths
	}
}

func domainSettings(w openapi.WorkshopChange) store.SettingsContent {
	l := w.Letterhead
	content := store.SettingsContent{
		Country: w.Country,
		Letterhead: quote.Letterhead{
			Name: l.Name, Lines: l.Lines, Telephone: l.Telephone, Email: l.Email, Web: l.Web,
			CompanyNumber: l.CompanyNumber, VATNumber: l.VatNumber, Bank: l.Bank,
		},
		QuoteTerms: w.QuoteTerms, NotIncluded: w.NotIncluded, ValidDays: int(w.ValidDays), KeepYears: int(w.KeepYears), EnquirySources: w.EnquirySources,
	}
	content.WarrantyMonths = int(w.WarrantyMonths)
	if w.Rework != nil {
		content.Rework = domainRework(*w.Rework)
	}
	for _, r := range w.CancellationRights {
		content.CancellationRights = append(content.CancellationRights, quote.CancellationRule{
			Country: r.Country, From: r.From, Days: int(r.Days), Cites: r.Cites,
		})
	}
	return content
}

func contractSettings(w store.Workshop, s store.Settings) openapi.WorkshopSettings {
	return openapi.WorkshopSettings{
		Code: w.Code, Name: w.Name, Currency: w.Currency, TimeZone: w.TimeZone, Version: s.Version, Country: s.Country,
		Letterhead: contractLetterhead(s.Letterhead),
		QuoteTerms: s.QuoteTerms, NotIncluded: orNone(s.NotIncluded), ValidDays: whole(s.ValidDays), KeepYears: whole(s.KeepYears),
		EnquirySources: orNone(s.EnquirySources),
		CancellationRights: orNone(mapped(s.CancellationRights, func(r quote.CancellationRule) openapi.CancellationRule {
			return openapi.CancellationRule{Country: r.Country, From: r.From, Days: whole(r.Days), Cites: r.Cites}
		})),
		Rework: new(contractRework(s.Rework)), WarrantyMonths: whole(s.WarrantyMonths),
	}
}

func domainRework(r openapi.ReworkRule) job.Rework {
	return job.Rework{RemovalPercent: int(r.RemovalPercent), RefittingPercent: int(r.RefittingPercent)}
}

func contractRework(r job.Rework) openapi.ReworkRule {
	return openapi.ReworkRule{RemovalPercent: whole(r.RemovalPercent), RefittingPercent: whole(r.RefittingPercent)}
}

// orNone is a list that must be there even when it is empty.
func orNone[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return slices.Clip(list)
}

func contractLetterhead(l quote.Letterhead) openapi.Letterhead {
	return openapi.Letterhead{
		Name: l.Name, Lines: l.Lines, Telephone: l.Telephone, Email: l.Email, Web: l.Web,
		CompanyNumber: l.CompanyNumber, VatNumber: l.VATNumber, Bank: l.Bank,
	}
}
