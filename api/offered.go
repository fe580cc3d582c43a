package api

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"net/http"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/api/paper"
	"wainscot/api/store"
	"wainscot/bom"
	"wainscot/openapi"
	"wainscot/pricing/quote"
)

// A link is a secret address under which a customer, who has no sign-in, reads
// what is offered and may accept it. It is one word: the workshop's id, which
// is no name and says only where to look, and 256 random bits. The database has
// the hash of both. What a customer does by it is journalled for the person who
// made the link, and kept as done by the link.

const linkSecretBytes = 32

var linkText = base64.RawURLEncoding.Strict()

// newLink makes the word and what is kept of it.
func newLink(workshop uuid.UUID) (word, sha string, err error) {
	b := make([]byte, len(workshop)+linkSecretBytes)
	copy(b, workshop[:])
	if _, err := rand.Read(b[len(workshop):]); err != nil {
		return "", "", fmt.Errorf("making a link: %w", err)
	}
	return linkText.EncodeToString(b), linkHash(b), nil
}

func linkHash(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

// byLink is the door for customers: it finds out which link was followed and
// for whom it acts. A wrong one, one that was withdrawn and one that never was
// cannot be told apart.
func (s *Server) byLink(c *gin.Context) (auth.Principal, error) {
	b, err := linkText.DecodeString(c.Param("link"))
	if err != nil || len(b) != len(uuid.Nil)+linkSecretBytes {
		return auth.Principal{}, noSuchOffer()
	}
	link, p, err := s.store.FindLink(c.Request.Context(), uuid.UUID(b[:len(uuid.Nil)]), linkHash(b))
	if errors.Is(err, store.ErrNotFound) {
		return p, noSuchOffer()
	}
	c.Set(linkKey, link)
	return p, err
}

const linkKey = "link"

func noSuchOffer() *problem {
	return &problem{
		code: openapi.ProblemCodeNotFound, detail: "There is no offer under this link.",
		remedy: "Look whether the whole link was copied, or ask the workshop for a new one.",
	}
}

// noLonger is for a customer whose link was good.
func noLonger(code openapi.ProblemCode, detail string) *problem {
	return &problem{code: code, detail: detail, remedy: "Ask the workshop for a new offer."}
}

// createLink makes a link to what is offered. Its secret is shown once.
func (s *Server) createLink(c *gin.Context) error {
	id, version, err := pathVersion(c, "quote")
	if err != nil {
		return err
	}
	o, err := s.readOffered(c, id)
	if err != nil {
		return err
	}
	if o.revision.ValidUntil < o.today {
		return &problem{code: openapi.ProblemCodeStateConflict, detail: "The offer has lapsed.", remedy: "Revise the quote and issue it anew."}
	}
	word, sha, err := newLink(principal(c).Workshop)
	if err != nil {
		return err
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		if _, err := tx.MakeLink(id, version, sha); err != nil {
			return reply{}, err
		}
		return reply{
			status: http.StatusCreated, location: "/v1/quotes/" + id.String(), sealed: true,
			body: openapi.Link{Link: word, Path: "/v1/offered/" + word + "/quote.html", ValidUntil: o.revision.ValidUntil},
		}, nil
	})
}

// withdrawLinks ends all links to a quote.
func (s *Server) withdrawLinks(c *gin.Context) error {
	id, err := pathID(c, "quote")
	if err != nil {
		return err
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		return reply{status: http.StatusNoContent}, notFoundIs(tx.WithdrawLinks(id), "quote")
	})
}

// followed is what is behind the link of a request: what it was made for while
// that stands, or what was accepted of it. refusal is the code for what does
// not stand any more.
func (s *Server) followed(c *gin.Context, refusal openapi.ProblemCode) (*offered, error) {
	link, _ := c.Value(linkKey).(store.QuoteLink)
	var o offered
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		if o.head, err = tx.Quote(link.Quote); err != nil {
			return err
		}
		if err := o.surroundings(tx); err != nil {
			return err
		}
		number := link.Revision
		if o.head.State == store.Accepted {
			kept, err := tx.Acceptance(link.Quote)
			if err != nil {
				return err
			}
			if kept.Offered == link.Revision {
				number = kept.Revision
			}
		}
		o.revision, err = tx.Revision(link.Quote, number)
		return err
	})
	if err != nil {
		return nil, err
	}
	switch o.revision.State.On(o.today, o.revision.ValidUntil) {
	case store.Issued, store.Accepted:
	case store.Lapsed:
		return nil, noLonger(refusal, "This offer has come to its end.")
	case store.Declined:
		return nil, noLonger(refusal, "This offer was declined.")
	default:
		return nil, noLonger(refusal, "Another offer has taken the place of this one.")
	}
	text, err := o.revision.Document.Unpack()
	if err == nil {
		o.document, err = quote.Decode(text)
	}
	return &o, err
}

// getOffered shows a customer what they were offered.
func (s *Server) getOffered(c *gin.Context) error {
	o, err := s.followed(c, openapi.ProblemCodeNotFound)
	if err != nil {
		return err
	}
	release, err := s.releaseByNumber(c, o.document.Release.Number)
	if err != nil {
		return err
	}
	d := o.document
	// A customer reads as sales does, without the insides: no cost, no
	// margin, no word of the workshop's own.
	const as = auth.Sales
	out := openapi.Offered{
		Workshop: contractLetterhead(d.Paper.Letterhead),
		Number:   whole(int(d.Number)), Revision: whole(d.Revision), State: openapi.QuoteState(o.revision.State),
		IssuedOn: d.IssuedOn, ValidUntil: d.ValidUntil,
		Net: contractAmount(d.Totals.Net), Vat: contractAmount(d.Totals.VAT), Gross: contractAmount(d.Totals.Gross),
		Payments: mapped(d.Payments, contractPayment), Reference: d.Paper.Reference,
		QuoteTerms: d.Paper.Terms, TermsSha256: d.Paper.TermsSHA256,
		Cancellation: contractCancellation(o.cancellation(quote.AtDistance, o.today, false, true)),
		Vans:         make([]openapi.OfferedVan, len(d.Vans)),
	}
	for i := range d.Vans {
		v := &d.Vans[i]
		out.Vans[i] = openapi.OfferedVan{
			BaseVan: baseVanName(release, d.Asked.Vans[i].Facts.BaseVan), Price: contractPrice(v.Priced, as),
			Extras:       mapped(v.Extras, func(e quote.Extra) openapi.Extra { return contractExtra(e, as) }),
			OpenFinishes: mapped(v.OpenFinishes, contractOpenFinish),
			Cautions:     mapped(v.Sheet.Cautions, func(n bom.CautionNote) string { return n.Says }),
			Remarks:      mapped(paper.Remarks(v), contractRemark),
			LeavesOut:    append([]string{}, v.Sheet.LeavesOut...),
			Certificates: mapped(v.Sheet.Certificates, func(c bom.Certificate) string { return c.Name }),
			Evidence:     mapped(v.Sheet.Evidence, contractEvidenceDue), ClassFeatures: mapped(v.Sheet.ClassFeatures, contractClassFeature),
		}
		if i < len(o.revision.Vans) {
			out.Vans[i].Registration = o.revision.Vans[i].Plate
		}
	}
	return answer(c, http.StatusOK, out)
}

func baseVanName(r *bom.Release, code string) string {
	for _, v := range r.Catalogue().BaseVans {
		if v.Code == code {
			return v.Name
		}
	}
	return code
}

func contractCancellation(r quote.Cancellation) openapi.Cancellation {
	return openapi.Cancellation{Applies: r.Applies, LastDay: r.LastDay, WorkBeforeLastDay: r.WorkBeforeLastDay, Cites: r.Cites, Says: r.Says}
}

// acceptOffered keeps the yes of a customer who follows a link.
func (s *Server) acceptOffered(c *gin.Context) error {
	sent, err := decode[openapi.OfferedYes](c)
	if err != nil {
		return err
	}
	if !sent.Agree {
		return brokenField("/agree", "not_allowed", "Nothing is accepted without agreeing.", "Send true when the customer agrees.")
	}
	o, err := s.followed(c, openapi.ProblemCodeStateConflict)
	if err != nil {
		return err
	}
	if o.revision.State == store.Accepted {
		return noLonger(openapi.ProblemCodeStateConflict, "This offer has been accepted already.")
	}
	y, err := s.accept(c, o, quote.Acceptance{
		On: o.today, How: quote.ByLink, Place: quote.AtDistance, TermsSHA256: sent.TermsSha256,
		Ticked: domainTicks(sent.Extras), ExpressRequest: sent.ExpressRequest,
	}, sent.By)
	if err != nil {
		return err
	}
	link, _ := c.Value(linkKey).(store.QuoteLink)
	d := y.agreed
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		head, kept, err := tx.AcceptByLink(link, y.keep, y.frozen)
		if errors.Is(err, store.ErrState) {
			return reply{}, noLonger(openapi.ProblemCodeStateConflict, "Another offer has taken the place of this one.")
		}
		if err != nil {
			return reply{}, err
		}
		if _, err := tx.AddJobs(head, kept.Revision, y.jobs); err != nil {
			return reply{}, err
		}
		if err := keepCustomers(tx, head, kept.On, o.settings.KeepYears); err != nil {
			return reply{}, err
		}
		return reply{
			status: http.StatusCreated, about: "/v1/quotes/" + head.ID.String(),
			body: openapi.OfferedAcceptance{
				Number: whole(int(head.Number)), Revision: whole(int(kept.Revision)), On: kept.On, Gross: contractAmount(d.Totals.Gross),
				Payments: mapped(d.Payments, contractPayment), Reference: d.Paper.Reference,
				Cancellation: openapi.Cancellation{
					Applies: kept.Cancellation.Applies, LastDay: kept.Cancellation.LastDay, WorkBeforeLastDay: kept.Cancellation.EarlyWork,
					Cites: kept.Cancellation.Cites, Says: kept.Cancellation.Says,
				},
			},
		}, nil
	})
}
