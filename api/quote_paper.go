package api

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/paper"
	"wainscot/api/store"
	"wainscot/bom"
	"wainscot/openapi"
	"wainscot/pricing/quote"
)

// A quote and its build sheets on paper. Names of files say a number and
// nothing about people.

const (
	kindPDF  = "application/pdf"
	kindHTML = "text/html; charset=utf-8"
	kindCSV  = "text/csv; charset=utf-8"
	kindSVG  = "image/svg+xml"
	kindXLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
)

func (s *Server) getQuotePDF(c *gin.Context) error {
	return s.quoteOnPaper(c, kindPDF, ".pdf", paper.QuotePDF)
}

func (s *Server) getQuoteHTML(c *gin.Context) error {
	return s.quoteOnPaper(c, kindHTML, ".html", paper.QuoteHTML)
}

func (s *Server) getOfferedPDF(c *gin.Context) error {
	return s.offeredOnPaper(c, kindPDF, ".pdf", paper.QuotePDF)
}

func (s *Server) getOfferedHTML(c *gin.Context) error {
	return s.offeredOnPaper(c, kindHTML, ".html", paper.QuoteHTML)
}

func (s *Server) quoteOnPaper(c *gin.Context, kind, ending string, write func(io.Writer, paper.Quote) error) error {
	q, err := s.showAsked(c)
	if err != nil {
		return err
	}
	o := offered{head: q.head, revision: store.Revision{RevisionEntry: q.revision, Vans: q.vans}, document: q.document}
	if err := s.readTx(c, o.surroundings); err != nil {
		return err
	}
	if q.draft() { // its document is made for showing and names no quote
		d := *q.document
		d.Quote, d.Number, d.Revision, d.IssuedOn, d.Paper = q.head.ID.String(), q.head.Number, int(q.revision.Number), q.today, paperOf(o.settings)
		o.document = &d
	}
	return s.onPaper(c, &o, kind, ending, write)
}

func (s *Server) offeredOnPaper(c *gin.Context, kind, ending string, write func(io.Writer, paper.Quote) error) error {
	o, err := s.followed(c, openapi.ProblemCodeNotFound)
	if err != nil {
		return err
	}
	return s.onPaper(c, o, kind, ending, write)
}

// onPaper writes a quote; whole before the first byte goes out.
func (s *Server) onPaper(c *gin.Context, o *offered, kind, ending string, write func(io.Writer, paper.Quote) error) error {
	release, err := s.releaseByNumber(c, o.document.Release.Number)
	if err != nil {
		return err
	}
	p := paper.Quote{Document: o.document, Catalogue: release.Catalogue(), Draft: o.revision.State == store.Draft}
	err = s.readTx(c, func(tx store.ReadTx) (err error) {
		if p.Customer, err = personOf(tx, o.head.Customer); err != nil {
			return err
		}
		p.EndCustomer, err = personOf(tx, o.head.EndCustomer)
		return err
	})
	if err != nil {
		return err
	}
	for _, v := range o.revision.Vans {
		p.Vans = append(p.Vans, paper.VanWords{Registration: v.Plate, VIN: v.VIN})
	}
	if right := o.cancellation(quote.AtDistance, o.document.IssuedOn, false, true); right.Applies {
		p.Cancellation = []string{right.Says, right.Cites}
	}
	var b bytes.Buffer
	if err := write(&b, p); err != nil {
		return fmt.Errorf("quote %d, revision %d on paper: %w", o.document.Number, o.document.Revision, err)
	}
	if kind == kindHTML {
		c.Header("Content-Security-Policy", paper.QuotePolicy()+"; frame-ancestors 'none'")
	}
	return sendFile(c, kind, fmt.Sprintf("quote-%d-revision-%d%s", o.document.Number, o.document.Revision, ending), b.Bytes())
}

// personOf is somebody as a letter addresses them; nobody for no id.
func personOf(tx store.ReadTx, id uuid.UUID) (paper.Person, error) {
	if id == uuid.Nil {
		return paper.Person{}, nil
	}
	found, err := tx.Customer(id)
	if err != nil {
		return paper.Person{}, err
	}
	p := paper.Person{Name: strings.TrimSpace(found.GivenNames + " " + found.Name), Lines: found.Address.Lines, Telephone: found.Telephone, Email: found.Email}
	if found.Address.Postcode != "" {
		p.Lines = append(p.Lines[:len(p.Lines):len(p.Lines)], found.Address.Postcode)
	}
	if found.Contact != "" {
		p.Lines = append([]string{found.Contact}, p.Lines...)
	}
	home, err := tx.Settings()
	if err != nil {
		return p, err
	}
	if found.Address.Country != "" && found.Address.Country != home.Country {
		p.Country, p.VATNumber = found.Address.Country, found.VATNumber
	}
	return p, nil
}

func (s *Server) getSheetXLSX(c *gin.Context) error {
	return s.sheetOnPaper(c, kindXLSX, ".xlsx", paper.SheetXLSX)
}

func (s *Server) getSheetCSV(c *gin.Context) error {
	return s.sheetOnPaper(c, kindCSV, ".csv", paper.SheetCSV)
}

func (s *Server) getVanSVG(c *gin.Context) error {
	return s.sheetOnPaper(c, kindSVG, ".svg", paper.SheetSVG)
}

func (s *Server) sheetOnPaper(c *gin.Context, kind, ending string, write func(io.Writer, paper.BuildSheet) error) error {
	q, err := s.showAsked(c)
	if err != nil {
		return err
	}
	place, err := strconv.Atoi(c.Param("place"))
	if err != nil || place < 1 || place > len(q.document.Vans) {
		return notFound("van of the quote")
	}
	release, err := s.releaseByNumber(c, q.document.Release.Number)
	if err != nil {
		return err
	}
	b := paper.BuildSheet{
		Sheet: q.document.Vans[place-1].Sheet, Catalogue: release.Catalogue(),
		Title: fmt.Sprintf("Quote %d, revision %d", q.head.Number, q.revision.Number), Day: q.revision.IssuedOn,
	}
	if b.Day == "" {
		b.Day = q.today
	}
	if place <= len(q.vans) {
		b.Van = paper.VanWords{Registration: q.vans[place-1].Plate, VIN: q.vans[place-1].VIN}
	}
	b.LeftHandDrive = paper.LeftHandDrive(q.document.Vans[place-1].Specification.Van, b.Catalogue)
	var out bytes.Buffer
	err = write(&out, b)
	if no, ok := errors.AsType[*paper.NotDrawable](err); ok {
		return &problem{code: openapi.ProblemCodeStateConflict, detail: no.Reason, remedy: no.Remedy}
	}
	if err != nil {
		return fmt.Errorf("build sheet of quote %d, revision %d: %w", q.head.Number, q.revision.Number, err)
	}
	name := "build-sheet"
	if kind == kindSVG {
		name = "masses"
		c.Header("Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'")
	}
	return sendFile(c, kind, fmt.Sprintf("%s-%d-revision-%d-van-%d%s", name, q.head.Number, q.revision.Number, place, ending), out.Bytes())
}

func sendFile(c *gin.Context, kind, name string, content []byte) error {
	way := "inline"
	if kind == kindCSV || kind == kindXLSX {
		way = "attachment"
	}
	c.Header("Content-Disposition", way+`; filename="`+name+`"`)
	c.Header("Cache-Control", "no-store")
	c.Header("Referrer-Policy", "no-referrer") // the address of a link is a secret
	c.Data(http.StatusOK, kind, content)
	return nil
}

// releaseByNumber gives a release compiled.
func (s *Server) releaseByNumber(c *gin.Context, number int64) (*bom.Release, error) {
	var entry store.ReleaseEntry
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		entry, err = releaseEntry(tx, number)
		return err
	})
	if err != nil {
		return nil, err
	}
	return s.release(c, entry)
}

func releaseEntry(tx store.ReadTx, number int64) (store.ReleaseEntry, error) {
	list, err := tx.Releases(number+1, 1)
	if err == nil && (len(list) != 1 || list[0].Number != number) {
		err = fmt.Errorf("release %d: %w", number, store.ErrNotFound)
	}
	if err != nil {
		return store.ReleaseEntry{}, err
	}
	return list[0], nil
}
