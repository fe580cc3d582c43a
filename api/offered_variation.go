package api

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/api/paper"
	"wainscot/api/store"
	"wainscot/bom"
	"wainscot/openapi"
	"wainscot/pricing/job"
	"wainscot/pricing/quote"
)

// A variation on paper, and before the customer by a link: the same as a quote
// (see offered.go), under an address of its own.

// variationLinkRoutes are those of variations on paper and by link.
func variationLinkRoutes() []route {
	var (
		sellers  = []auth.Role{auth.Owner, auth.Sales}
		floor    = []auth.Role{auth.Owner, auth.Workshop}
		advisers = []auth.Role{auth.Owner, auth.Sales, auth.Books}
		anybody  []auth.Role
	)
	const one, offered = "/v1/jobs/:id/variations/:number", "/v1/offered-variations/:link"
	return []route{
		{http.MethodPost, one + "/answers", floor, (*Server).answerVariationCheck},
		{http.MethodPost, one + "/answers/withdrawal", floor, (*Server).withdrawVariationAnswer},
		{http.MethodGet, one + "/variation.html", advisers, (*Server).getVariationHTML},
		{http.MethodGet, one + "/variation.pdf", advisers, (*Server).getVariationPDF},
		{http.MethodPost, one + "/links", sellers, (*Server).createVariationLink},
		{http.MethodPost, one + "/links/withdraw", sellers, (*Server).withdrawVariationLinks},
		{http.MethodGet, offered, anybody, (*Server).getOfferedVariation},
		{http.MethodGet, offered + "/variation.html", anybody, (*Server).getOfferedVariationHTML},
		{http.MethodGet, offered + "/variation.pdf", anybody, (*Server).getOfferedVariationPDF},
		{http.MethodPost, offered + "/acceptance", anybody, (*Server).acceptOfferedVariation},
		{http.MethodPost, offered + "/decline", anybody, (*Server).declineOfferedVariation},
	}
}

// byVariationLink is byLink for variations.
func (s *Server) byVariationLink(c *gin.Context) (auth.Principal, error) {
	b, err := linkText.DecodeString(c.Param("link"))
	if err != nil || len(b) != len(uuid.Nil)+linkSecretBytes {
		return auth.Principal{}, noSuchOffer()
	}
	link, p, err := s.store.FindVariationLink(c.Request.Context(), uuid.UUID(b[:len(uuid.Nil)]), linkHash(b))
	if errors.Is(err, store.ErrNotFound) {
		return p, noSuchOffer()
	}
	c.Set(linkKey, link)
	return p, err
}

// createVariationLink makes a link to what was sent. Its secret is shown once.
func (s *Server) createVariationLink(c *gin.Context) error {
	a, kept, err := s.readVariation(c, 0)
	if err != nil {
		return err
	}
	if kept.SentOn == "" {
		return &problem{code: openapi.ProblemCodeStateConflict, detail: "It is a draft, which nobody can answer.", remedy: "Send it first."}
	}
	v, err := frozenVariation(kept)
	if err != nil {
		return err
	}
	if no := a.unanswerable(kept, v); no != "" {
		return &problem{code: openapi.ProblemCodeStateConflict, detail: no, remedy: "Make the variation anew and send it."}
	}
	word, sha, err := newLink(principal(c).Workshop)
	if err != nil {
		return err
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		if _, err := tx.MakeVariationLink(a.whole.ID, kept.Number, sha); err != nil {
			return reply{}, err
		}
		return reply{
			status: http.StatusCreated, location: "/v1/jobs/" + a.whole.ID.String() + "/variations/" + strconv.FormatInt(kept.Number, 10), sealed: true,
			body: openapi.VariationLink{Link: word, Path: "/v1/offered-variations/" + word + "/variation.html", ValidUntil: kept.ValidUntil},
		}, nil
	})
}

// unanswerable says why a variation that was sent cannot be answered any more;
// "" where it can.
func (a *agreedJob) unanswerable(kept *store.Variation, v *job.Variation) string {
	switch {
	case kept.State == job.VariationAccepted:
		return "It has been accepted already."
	case kept.State == job.VariationDeclined:
		return "It was declined."
	case kept.State == job.VariationWithdrawn:
		return "The workshop has taken it back."
	case !v.Stands(kept.State, a.ground.today):
		return "It has come to its end."
	case a.whole.Content.Variation != v.From.Variation:
		return "Another change was agreed since it was sent."
	case a.whole.State != job.Agreed && a.whole.State != job.InTheWorkshop:
		return "The work on the van is over."
	}
	return ""
}

// withdrawVariationLinks ends all links to a variation.
func (s *Server) withdrawVariationLinks(c *gin.Context) error {
	id, err := pathID(c, "job")
	if err != nil {
		return err
	}
	number, err := pathOrdinal(c, "variation")
	if err != nil {
		return err
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		return reply{status: http.StatusNoContent}, notFoundIs(tx.WithdrawVariationLinks(id, number), "variation")
	})
}

// offeredVariation is what is behind a link: a variation that waits for an
// answer, or was accepted.
type offeredVariation struct {
	*agreedJob
	kept *store.Variation
	v    *job.Variation
}

// followVariation reads what is behind the link of a request. refusal is the
// code for what does not stand any more.
func (s *Server) followVariation(c *gin.Context, refusal openapi.ProblemCode) (*offeredVariation, error) {
	link, _ := c.Value(linkKey).(store.VariationLink)
	o := &offeredVariation{}
	var err error
	if o.agreedJob, err = s.agreedJob(c, link.Job, 0); err != nil {
		return nil, err
	}
	if o.kept, err = s.variation(c, link.Job, link.Number); err != nil {
		return nil, err
	}
	if o.v, err = frozenVariation(o.kept); err != nil {
		return nil, err
	}
	if o.kept.State != job.VariationAccepted {
		if no := o.unanswerable(o.kept, o.v); no != "" {
			return nil, noLonger(refusal, no)
		}
	}
	return o, nil
}

// reference is what a job is paid under.
func (a *agreedJob) reference() (string, error) {
	return quote.Reference(a.head.Number, int(a.whole.Place))
}

// getOfferedVariation shows a customer what changes, as its page does.
func (s *Server) getOfferedVariation(c *gin.Context) error {
	o, err := s.followVariation(c, openapi.ProblemCodeNotFound)
	if err != nil {
		return err
	}
	reference, err := o.reference()
	if err != nil {
		return err
	}
	x, van := o.v, &o.v.Van
	out := openapi.OfferedVariation{
		Workshop:  contractLetterhead(x.Paper.Letterhead),
		JobNumber: whole(int(o.whole.Number)), Number: whole(int(x.Number)), QuoteNumber: whole(int(o.head.Number)),
		State: openapi.VariationState(o.kept.State), SentOn: o.kept.SentOn, ValidUntil: x.ValidUntil,
		BaseVan: baseVanName(o.release, van.Specification.Van.BaseVan), Registration: o.plate(),
		Says: mapped(x.Says, contractVariationTold), Basis: openapi.Basis(van.Priced.Basis),
		Was: contractTotalsSum(x.Was), Change: contractSum(x.Change), Is: contractTotalsSum(x.Is), Vat: mapped(x.VAT, contractVATChange),
		Payments: mapped(x.Payments, contractPayment), Schedule: mapped(x.Schedule, contractPayment), Reference: reference,
		Reckoned: mapped(paper.Reckoned(x), contractRemark), Remarks: mapped(paper.Remarks(van), contractRemark),
		OpenFinishes: mapped(van.OpenFinishes, contractOpenFinish),
		Cautions:     mapped(van.Sheet.Cautions, func(n bom.CautionNote) string { return n.Says }),
		LeavesOut:    append([]string{}, van.Sheet.LeavesOut...),
		Certificates: mapped(van.Sheet.Certificates, func(c bom.Certificate) string { return c.Name }),
		Evidence:     mapped(van.Sheet.Evidence, contractEvidenceDue), ClassFeatures: mapped(van.Sheet.ClassFeatures, contractClassFeature),
		QuoteTerms: x.Paper.Terms, TermsSha256: x.Paper.TermsSHA256, Sha256: o.kept.SHA256,
	}
	if given := o.whole.Content.GivenTo(x.Number); given != nil {
		out.Cancellation = contractCancellation(given.Cancellation)
	} else if x.Cancellation != nil {
		out.Cancellation = contractCancellation(*x.Cancellation)
	}
	return answer(c, http.StatusOK, out)
}

func contractRemark(r paper.Remark) openapi.Remark { return openapi.Remark{Name: r.Name, Says: r.Says} }

// plate is the registration the van was agreed under.
func (a *agreedJob) plate() string {
	if k := int(a.whole.Place) - 1; k >= 0 && k < len(a.text.revision.Vans) {
		return a.text.revision.Vans[k].Plate
	}
	return ""
}

func (s *Server) getVariationPDF(c *gin.Context) error {
	return s.variationOnPaper(c, kindPDF, ".pdf", paper.VariationPDF)
}

func (s *Server) getVariationHTML(c *gin.Context) error {
	return s.variationOnPaper(c, kindHTML, ".html", paper.VariationHTML)
}

func (s *Server) variationOnPaper(c *gin.Context, kind, ending string, write func(io.Writer, paper.Variation) error) error {
	a, kept, err := s.readVariation(c, 0)
	if err != nil {
		return err
	}
	v, err := s.shownVariation(c, a, kept)
	if err != nil {
		return err
	}
	return s.printVariation(c, &offeredVariation{a, kept, &v.Variation}, kind, ending, write)
}

func (s *Server) getOfferedVariationPDF(c *gin.Context) error {
	return s.offeredVariationOnPaper(c, kindPDF, ".pdf", paper.VariationPDF)
}

func (s *Server) getOfferedVariationHTML(c *gin.Context) error {
	return s.offeredVariationOnPaper(c, kindHTML, ".html", paper.VariationHTML)
}

func (s *Server) offeredVariationOnPaper(c *gin.Context, kind, ending string, write func(io.Writer, paper.Variation) error) error {
	o, err := s.followVariation(c, openapi.ProblemCodeNotFound)
	if err != nil {
		return err
	}
	return s.printVariation(c, o, kind, ending, write)
}

// printVariation writes a variation; whole before the first byte goes out.
func (s *Server) printVariation(c *gin.Context, o *offeredVariation, kind, ending string, write func(io.Writer, paper.Variation) error) error {
	p := paper.Variation{
		Variation: o.v, JobNumber: o.whole.Number, QuoteNumber: o.head.Number, Catalogue: o.release.Catalogue(), Draft: o.kept.SentOn == "",
		Van: paper.VanWords{Registration: o.plate()},
	}
	if !p.Draft {
		p.SHA256 = o.kept.SHA256
	}
	var err error
	if p.Reference, err = o.reference(); err != nil {
		return err
	}
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
	var b bytes.Buffer
	if err := write(&b, p); err != nil {
		return fmt.Errorf("variation %d of job %d on paper: %w", o.v.Number, o.whole.Number, err)
	}
	if kind == kindHTML {
		c.Header("Content-Security-Policy", paper.QuotePolicy()+"; frame-ancestors 'none'")
	}
	return sendFile(c, kind, fmt.Sprintf("job-%d-variation-%d%s", o.whole.Number, o.v.Number, ending), b.Bytes())
}

// linkTries is how often an answer by a link is tried while somebody changes the
// job: a customer has seen no version of it, and theirs is not about one.
const linkTries = 3

// answerOffered does it until the job stands still.
func answerOffered(once func() error) error {
	for range linkTries {
		if err := once(); !errors.Is(err, store.ErrStale) {
			return err
		}
	}
	return notNow("The job is being changed at this moment.")
}

// acceptOfferedVariation keeps the yes of a customer who follows a link.
func (s *Server) acceptOfferedVariation(c *gin.Context) error {
	sent, err := decode[openapi.OfferedVariationYes](c)
	if err != nil {
		return err
	}
	if !sent.Agree {
		return brokenField("/agree", "not_allowed", "Nothing is accepted without agreeing.", "Send true when the customer agrees.")
	}
	return answerOffered(func() error {
		o, err := s.answeredByLink(c)
		if err != nil {
			return err
		}
		if sent.Sha256 != o.kept.SHA256 {
			return brokenTerms("/sha256", "other_variation", "It is not the hash of the change behind this link.", "Read the change again, and send its hash.")
		}
		y, err := o.yes(o.kept, o.v, o.consent(o.ground.today, quote.ByLink, "", sent.ExpressRequest), sent.By, requested(nil, sent.ExpressRequest))
		if err != nil {
			return err
		}
		keep, err := s.keepYes(c, y, o.v)
		if err != nil {
			return err
		}
		return s.keepAnswerByLink(c, o, &y.now, keep)
	})
}

// declineOfferedVariation keeps the no of a customer who follows a link.
func (s *Server) declineOfferedVariation(c *gin.Context) error {
	sent, err := decode[openapi.OfferedVariationNo](c)
	if err != nil {
		return err
	}
	return answerOffered(func() error {
		o, err := s.answeredByLink(c)
		if err != nil {
			return err
		}
		now := o.whole.Content.NotTaken(o.v)
		return s.keepAnswerByLink(c, o, &now, func(tx store.WriteTx) (ended store.Variation, err error) {
			ended.VariationEntry, err = tx.EndVariation(o.whole.ID, o.kept.Number, o.ground.today, job.VariationDeclined, sent.By, quote.ByLink)
			return ended, err
		})
	})
}

// answeredByLink is what is behind a link where it can still be answered.
func (s *Server) answeredByLink(c *gin.Context) (*offeredVariation, error) {
	o, err := s.followVariation(c, openapi.ProblemCodeStateConflict)
	if err != nil {
		return nil, err
	}
	if no := o.unanswerable(o.kept, o.v); no != "" {
		return nil, noLonger(openapi.ProblemCodeStateConflict, no)
	}
	return o, nil
}

// keepAnswerByLink writes the answer, and what the job is with it.
func (s *Server) keepAnswerByLink(c *gin.Context, o *offeredVariation, now *job.Job, write func(store.WriteTx) (store.Variation, error)) error {
	packed, err := store.PackJob(now)
	if err != nil {
		return err
	}
	reference, err := o.reference()
	if err != nil {
		return err
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		if _, err := tx.ChangeWholeJob(o.whole, now, packed); err != nil {
			return reply{}, err
		}
		kept, err := write(tx)
		if err != nil {
			return reply{}, err
		}
		out := openapi.OfferedVariationAnswer{
			JobNumber: whole(int(o.whole.Number)), Number: whole(int(kept.Number)), State: openapi.VariationState(kept.State), DecidedOn: kept.DecidedOn,
			Total: contractTotalsSum(o.Van.Priced.Totals), Schedule: mapped(o.Schedule, contractPayment), Reference: reference,
		}
		if kept.State == job.VariationAccepted {
			out.Total, out.Schedule = contractTotalsSum(o.v.Is), mapped(o.v.Schedule, contractPayment)
			out.Cancellation = contractCancellation(now.GivenTo(kept.Number).Cancellation)
		}
		return reply{status: http.StatusCreated, about: "/v1/jobs/" + o.whole.ID.String(), body: out}, nil
	})
}
