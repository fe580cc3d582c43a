package api

import (
	"bytes"
	"fmt"
	"io"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"wainscot/api/paper"
	"wainscot/api/store"
	"wainscot/openapi"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
)

// vatReport is the VAT of the period that is asked for.
func (s *Server) vatReport(c *gin.Context) (ledger.VATReport, error) {
	from, until := c.Query("from"), c.Query("until")
	var r ledger.VATReport
	err := s.readTx(c, func(tx store.ReadTx) error {
		w, err := tx.Workshop()
		if err != nil {
			return err
		}
		currency := money.Currency(w.Currency)
		set, err := tx.Purchases(currency)
		if err != nil {
			return err
		}
		books, err := tx.Books()
		if err != nil {
			return err
		}
		entries, err := tx.LedgerEntriesBetween(from, until)
		if err != nil {
			return err
		}
		found, faults, err := ledger.ReportVAT(entries, from, until, until <= set.CompleteThrough, books.ClosedThrough, currency)
		if len(faults) > 0 {
			return brokenField("query/until", faults[0].Code, faults[0].Reason, faults[0].Remedy)
		}
		r = found
		return err
	})
	return r, err
}

// getVATReport tells the VAT of a period.
func (s *Server) getVATReport(c *gin.Context) error {
	r, err := s.vatReport(c)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, openapi.VatReport{
		From: r.From, Until: r.Until, Complete: r.Complete, Closed: r.Closed, Heading: r.Heading, Covers: r.Covers, Output: mapped(r.Output, contractVATSum),
		Input: mapped(r.Input, contractVATSum), Sales: contractAmount(r.Sales), OutputVat: contractAmount(r.OutputVAT), Purchases: contractAmount(r.Purchases),
		InputVat: contractAmount(r.InputVAT), Balance: contractAmount(r.Balance),
	})
}

func (s *Server) getVATReportCSV(c *gin.Context) error {
	return s.vatReportOnPaper(c, kindCSV, ".csv", paper.TableCSV)
}

func (s *Server) getVATReportXLSX(c *gin.Context) error {
	return s.vatReportOnPaper(c, kindXLSX, ".xlsx", paper.TableXLSX)
}

func (s *Server) vatReportOnPaper(c *gin.Context, kind, ending string, write func(io.Writer, paper.Table) error) error {
	r, err := s.vatReport(c)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := write(&b, vatTable(&r)); err != nil {
		return fmt.Errorf("VAT on paper: %w", err)
	}
	return sendFile(c, kind, "vat-"+r.From+"-to-"+r.Until+ending, b.Bytes())
}

// vatTable is the report on paper. Its heading is in every row as well: a CSV
// has no other place for it, and figures without it would be taken for a return.
func vatTable(r *ledger.VATReport) paper.Table {
	t := paper.Table{
		Name: "VAT", Title: r.Heading, Subject: strings.Join(r.Covers, " "), Day: r.Until,
		Columns: []paper.Column{
			{Name: "heading", Head: "Heading", Width: 44}, {Name: "side", Head: "Side", Width: 16}, {Name: "treatment", Head: "Treatment", Width: 12},
			{Name: "vat_percent", Head: "Rate in %", Width: 10, Number: true}, {Name: "net", Head: "Without VAT", Width: 14, Number: true},
			{Name: "vat", Head: "VAT", Width: 14, Number: true}, {Name: "currency", Head: "Currency", Width: 9},
		},
	}
	row := func(side, treatment, percent string, net, vat money.Amount) {
		t.Rows = append(t.Rows, []string{r.Heading, side, treatment, percent, net.Fixed(), vat.Fixed(), string(vat.Currency())})
	}
	for _, v := range r.Output {
		row("due", string(v.Treatment), plain(v.Percent), v.Net, v.VAT)
	}
	row("all due", "", "", r.Sales, r.OutputVAT)
	for _, v := range r.Input {
		row("paid", string(v.Treatment), plain(v.Percent), v.Net, v.VAT)
	}
	row("all paid", "", "", r.Purchases, r.InputVAT)
	row("due less paid", "", "", money.Zero(r.Balance.Currency()), r.Balance)
	return t
}
