package api

import (
	"strconv"

	"github.com/gin-gonic/gin"
	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/openapi"
	"wainscot/pricing/pricebook"
)

// publicationFormat is the format of a body that has, beside a catalogue, the
// warnings about it that are acknowledged. A catalogue alone will do as well.
const publicationFormat = "wainscot-publication/1"

// publication is what is sent to be published or proved.
type publication struct {
	catalogue []byte
	// under is where the catalogue stands in the body, as a pointer.
	under        string
	acknowledged []bom.Acknowledgement
}

// sentPublication reads the body of a request.
func sentPublication(c *gin.Context) (publication, error) {
	text := sentDocument(c)
	if formatOf(text) != publicationFormat {
		return publication{catalogue: text}, nil
	}
	var sent struct {
		Format       string                `json:"format"`
		Catalogue    jsontext.Value        `json:"catalogue"`
		Acknowledged []bom.Acknowledgement `json:"acknowledged"`
	}
	refused := func(code, field, reason, remedy string) error {
		return &problem{
			code: openapi.ProblemCodeDocumentRefused, detail: "The publication has faults.", remedy: "Mend what errors name.",
			errors: []openapi.FieldError{{Field: field, Code: code, Reason: reason, Remedy: remedy}},
		}
	}
	if err := json.Unmarshal(text, &sent, json.RejectUnknownMembers(true)); err != nil {
		return publication{}, refused("wrong_form", "/", "It is not a publication: "+clip(err.Error())+".",
			"Give format, catalogue, and acknowledged, a list of warnings each with its reason; nothing else.")
	}
	if len(sent.Catalogue) == 0 {
		return publication{}, refused("missing_value", "/catalogue", "There is no catalogue.", "Put the whole catalogue there.")
	}
	return publication{catalogue: sent.Catalogue, under: "/catalogue", acknowledged: sent.Acknowledged}, nil
}

// formatOf is what a document says it is; "" for one that cannot be read, of
// which its own reader says why.
func formatOf(text []byte) string {
	var head struct {
		Format string `json:"format"`
	}
	if json.Unmarshal(text, &head) != nil {
		return ""
	}
	return head.Format
}

// draft is a catalogue that was sent, compiled, with the price-book in force.
type draft struct {
	publication
	basis   proofBasis
	release *bom.Release
	book    *pricebook.Compiled // nil where no edition is in force
}

// sentDraft reads and compiles a catalogue that was sent. Its faults are a
// problem; so is it when the edition in force does not fit it: from the moment
// it was published no quote could be made or changed, until somebody noticed
// why. The way round is an edition that fits both, which may price more than a
// catalogue has. Editions that are not in force yet are nobody's trouble today.
// A workshop without one publishes its first catalogue before its prices.
func (s *Server) sentDraft(c *gin.Context) (*draft, error) {
	var d draft
	var err error
	if d.publication, err = sentPublication(c); err != nil {
		return nil, err
	}
	read, positions, faults := catalogue.DecodeJSON(d.catalogue)
	if len(faults) > 0 {
		return nil, documentRefused(d.catalogue, d.under, "catalogue", faults)
	}
	d.release, err = s.releases.get(c.Request.Context(), catalogue.Hash(read), func() (*bom.Release, int, error) {
		compiled, found := bom.Compile(read)
		faults = found
		return compiled, len(d.catalogue), found.Err()
	})
	if len(faults) > 0 {
		return nil, documentRefused(d.catalogue, d.under, "catalogue", positions.Locate(faults))
	}
	if err != nil {
		return nil, err
	}
	if d.basis, err = s.proofBasis(c); err != nil || d.basis.edition == nil {
		return &d, err
	}
	edition, err := s.editionText(c, *d.basis.edition)
	if err != nil {
		return nil, err
	}
	d.book, faults = pricebook.Compile(d.release.Catalogue(), edition)
	if len(faults) == 0 {
		return &d, nil
	}
	code := d.basis.edition.Code
	p := &problem{
		code:   openapi.ProblemCodeDocumentRefused,
		detail: "The price-book edition " + code + ", which is in force, does not fit this catalogue: no quote could be made.",
		remedy: "First add an edition that prices what both catalogues need, in force by today, or keep what it prices in the catalogue.",
	}
	for _, f := range faults {
		p.errors = append(p.errors, openapi.FieldError{Field: "edition " + code + "/" + clip(f.At), Code: f.Code, Reason: f.Reason, Remedy: f.Remedy})
	}
	return nil, p
}

// provedDraft proves a draft and takes into the proof what is acknowledged:
// with the draft, and with the release before where the warning is still the
// same. What cannot be acknowledged is a problem; what the proof found is not.
func (s *Server) provedDraft(c *gin.Context, d *draft) (*bom.Proof, error) {
	shared, err := prove(c.Request.Context(), d.release, pricedBy(d.book, d.basis.day))
	if err != nil {
		return nil, err
	}
	proof := *shared
	if faults := proof.Acknowledge(d.acknowledged); len(faults) > 0 {
		return nil, documentRefused(sentDocument(c), "", "publication", faults)
	}
	proof.CarryOver(CarriedOver(d.basis.acknowledged))
	return &proof, nil
}

// proofRefused tells all that stands between a draft and publishing it.
func proofRefused(d *draft, proof *bom.Proof) error {
	faults, warnings := proof.Faults(), proof.Unacknowledged()
	if len(faults)+len(warnings) == 0 {
		return nil
	}
	return &problem{
		code:   openapi.ProblemCodeDocumentRefused,
		detail: "The catalogue is not proved: there are " + strconv.Itoa(len(faults)) + " faults in it, and " + strconv.Itoa(len(warnings)) + " warnings that nobody has acknowledged.",
		remedy: "Mend the faults. Mend each warning too, or acknowledge it by its key with a reason. /v1/releases/proof shows the whole proof.",
		errors: findingErrors(d.catalogue, d.under, append(faults, warnings...)),
	}
}
