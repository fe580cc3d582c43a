package api

import (
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"wainscot/api/store"
	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/openapi"
	"wainscot/pricing/money"
)

// compareReleases tells what is different in a release from another one, and
// what it makes of the open quotes.
func (s *Server) compareReleases(c *gin.Context) error {
	number, err := strconv.ParseInt(c.Param("number"), 10, 64)
	if err != nil {
		return notFound("release")
	}
	with, err := strconv.ParseInt(c.Query("with"), 10, 64)
	if err != nil {
		return brokenField("query/with", "not_allowed", "It is not the number of a release.", "Write it in digits.")
	}
	var two [2]store.ReleaseEntry
	err = s.readTx(c, func(tx store.ReadTx) (err error) {
		if two[0], err = releaseEntry(tx, with); err == nil {
			two[1], err = releaseEntry(tx, number)
		}
		return err
	})
	if err != nil {
		return notFoundIs(err, "release")
	}
	var sides [2]comparedRelease
	for i, entry := range two {
		sides[i].number = entry.Number
		if sides[i].release, err = s.release(c, entry); err != nil {
			return err
		}
	}
	return s.compared(c, sides[0], sides[1])
}

// compareDraft does the same of a catalogue that is not published, with the
// latest release.
func (s *Server) compareDraft(c *gin.Context) error {
	d, err := s.sentDraft(c)
	if err != nil {
		return err
	}
	was, err := s.catalogueOffer(c)
	if err != nil {
		return err
	}
	return s.compared(c, comparedRelease{was.number, was.release}, comparedRelease{0, d.release})
}

// comparedRelease is one side of a comparison; a draft has no number.
type comparedRelease struct {
	number  int64
	release *bom.Release
}

func (r *comparedRelease) contract() openapi.ComparedRelease {
	return openapi.ComparedRelease{Number: whole(int(r.number)), Hash: r.release.Hash(), Title: r.release.Catalogue().Title}
}

// maxVansCompared is how many vans a page of effects works out, each with both
// releases: one of 40 vans may be a page by itself.
const maxVansCompared = 200

// compared answers with a page of open quotes; the first page has what is
// different in the catalogue as well.
func (s *Server) compared(c *gin.Context, was, is comparedRelease) error {
	limit, err := pageSize(c)
	if err != nil {
		return err
	}
	question := "release comparison " + was.release.Hash() + " " + is.release.Hash()
	after, err := s.placeAsked(c, question)
	if err != nil {
		return err
	}
	out := openapi.ReleaseComparison{
		From: was.contract(), To: is.contract(), Counts: []openapi.CountedDifferences{}, Differences: []openapi.CatalogueDifference{}, Quotes: []openapi.QuoteEffect{},
	}
	if after == nil {
		told := catalogue.Compare(was.release.Catalogue(), is.release.Catalogue())
		out.Counts, out.Differences = mapped(told.Counts, contractCountedDifferences), mapped(told.Differences, contractDifference)
		out.DifferencesCut = whole(told.Cut)
	}
	var list []store.QuoteEntry
	var next *store.Place
	var workshop store.Workshop
	err = s.readTx(c, func(tx store.ReadTx) error {
		day, err := dayOf(tx)
		if err != nil {
			return err
		}
		if workshop, err = tx.Workshop(); err != nil {
			return err
		}
		open := store.QuoteFilter{Open: true, Today: day, After: after, Limit: limit}
		if list, next, err = tx.Quotes(open); err != nil {
			return err
		}
		n, err := tx.CountQuotes(open)
		out.OpenQuotes = whole(n)
		return err
	})
	if err != nil {
		return err
	}
	total := effectTotal{currency: money.Currency(workshop.Currency)}
	vans := 0
	for i := range list {
		if vans += len(list[i].Vans); i > 0 && (vans > maxVansCompared || halfTimeGone(c)) {
			last := &list[i-1]
			next = &store.Place{CreatedAt: last.CreatedAt, ID: last.ID}
			break
		}
		effect, err := s.effectOn(c, &list[i], &was, &is)
		if err != nil {
			return err
		}
		if err := total.add(&effect); err != nil {
			return err
		}
		out.Quotes = append(out.Quotes, contractEffect(&list[i], &effect))
	}
	if next != nil {
		out.Next = s.writeCursor(principal(c), question, placeText(next))
	}
	out.Totals, err = total.contract()
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, out)
}

// halfTimeGone says that a request should come to its end: quotes that are
// settled cheaply take hundreds of times as long as others.
func halfTimeGone(c *gin.Context) bool {
	deadline, ok := c.Request.Context().Deadline()
	return ok && time.Until(deadline) < handlerTimeout/2
}

func contractCountedDifferences(n catalogue.Counted) openapi.CountedDifferences {
	return openapi.CountedDifferences{
		Section: openapi.CatalogueSection(n.Section), Added: whole(n.Added), Gone: whole(n.Gone), Changed: whole(n.Changed),
	}
}

func contractDifference(d catalogue.Difference) openapi.CatalogueDifference {
	return openapi.CatalogueDifference{
		Section: openapi.CatalogueSection(d.Section), Code: d.Code, Name: d.Name, How: openapi.CatalogueDifferenceHow(d.How),
		At: d.At, Says: cutWords(d.Says), Was: cutWords(d.Was), Is: cutWords(d.Is),
	}
}
