package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"wainscot/api"
	"wainscot/api/store"
	"wainscot/bom"
	"wainscot/pricing"
	"wainscot/pricing/pricebook"
)

// importGround is what a workshop has that an import is held against.
type importGround struct {
	day string // today, where the workshop is
	// release is the latest one, 0 for none; published says that it is this
	// very catalogue. acknowledged is what was for it.
	release      int64
	published    bool
	acknowledged []store.Acknowledgement
	// adds are the editions that the workshop has not yet, has those it has.
	adds []store.NewEdition
	has  []string
	// inForce is the edition in force today once they are added; nil for none.
	inForce *pricebook.Compiled
}

// same says whether what is there, and what would be added to it, are the same
// as a moment ago.
func (g *importGround) same(o *importGround) bool {
	return g.day == o.day && g.release == o.release && slices.Equal(g.has, o.has) &&
		(g.inForce == nil) == (o.inForce == nil) && (g.inForce == nil || g.inForce.Hash() == o.inForce.Hash())
}

// ground reads it, and refuses what does not fit it.
func (o *offer) ground(tx store.ReadTx, editions []store.NewEdition) (g importGround, err error) {
	workshop, err := tx.Workshop()
	if err != nil {
		return g, err
	}
	place, err := time.LoadLocation(workshop.TimeZone)
	if err != nil {
		return g, fmt.Errorf("the workshop's time zone: %w", err)
	}
	g.day = tx.Now().In(place).Format(time.DateOnly)
	latest, err := tx.Releases(0, 1)
	if err != nil {
		return g, err
	}
	if len(latest) > 0 {
		g.release, g.published = latest[0].Number, latest[0].Hash == o.release.Hash()
		if g.acknowledged, err = tx.Acknowledgements(g.release); err != nil {
			return g, err
		}
	}
	for _, n := range editions {
		switch there, err := tx.Edition(n.Code); {
		case errors.Is(err, store.ErrNotFound):
			if n.Currency != workshop.Currency {
				return g, fmt.Errorf("edition %s is in %s and the workshop works in %s", n.Code, n.Currency, workshop.Currency)
			}
			g.adds = append(g.adds, n)
		case err != nil:
			return g, err
		case there.Hash != n.Hash:
			return g, fmt.Errorf("the workshop has an edition %s already, with other content, and an edition never changes: give the new one a code and a first day of its own", n.Code)
		default:
			g.has = append(g.has, n.Code)
		}
	}
	g.inForce, err = o.willBeInForce(tx, &g)
	return g, err
}

// willBeInForce is the edition in force today once the new ones are added: one
// of them or one that is there, which may not be in the folder any more. It
// must price the catalogue, or no quote could be made.
func (o *offer) willBeInForce(tx store.ReadTx, g *importGround) (*pricebook.Compiled, error) {
	now, some := o.book.InForce(g.day)
	there, err := tx.EditionInForce(g.day)
	if errors.Is(err, store.ErrNotFound) {
		if !some {
			return nil, nil //nolint:nilnil // none is in force yet
		}
		return now, nil
	}
	if err != nil || some && now.Edition().InForceFrom >= there.InForceFrom {
		return now, err
	}
	text, err := there.Document.Unpack()
	if err != nil {
		return nil, err
	}
	read, _, faults := pricebook.DecodeJSON(text)
	if err := faults.Err(); err != nil {
		return nil, err
	}
	compiled, faults := pricebook.Compile(o.release.Catalogue(), read)
	if len(faults) > 0 {
		return nil, fmt.Errorf("the edition %s, which is in force, does not fit this catalogue, and no quote could be made; nothing is stored:\n%w", there.Code, faults)
	}
	return compiled, nil
}

// prices are what an import is proved with: the edition in force, and those
// that are added and come into force later.
func (o *offer) prices(g *importGround) []pricing.OnDay {
	var on []pricing.OnDay
	if g.inForce != nil {
		on = append(on, pricing.OnDay{Book: g.inForce, Day: g.day})
	}
	for _, k := range o.book.Editions() {
		code, from := k.Edition().Code, k.Edition().InForceFrom
		added := slices.ContainsFunc(g.adds, func(n store.NewEdition) bool { return n.Code == code })
		if added && from > g.day {
			on = append(on, pricing.OnDay{Book: k, Day: from})
		}
	}
	return on
}

// prove proves what is imported, and tells all that stands in its way. Of a
// catalogue that is published already only new prices are looked at.
func (v importVerb) prove(p *program, o *offer, g *importGround, said acknowledged) (*bom.Proof, error) {
	if g.published && len(g.adds) == 0 {
		return &bom.Proof{}, nil
	}
	proof, err := pricing.Prove(o.release, o.prices(g), bom.Proving{})
	if err != nil {
		return nil, err
	}
	if err := said.to(p, &proof); err != nil {
		return nil, err
	}
	proof.CarryOver(api.CarriedOver(g.acknowledged))
	stops := append(proof.Faults(), proof.Unacknowledged()...)
	if g.published {
		stops = slices.DeleteFunc(stops, func(f bom.Finding) bool { return !pricing.OfPrices(f.Code) })
	}
	if len(stops) == 0 {
		return &proof, nil
	}
	out := proofPrintout{p: p, proof: &proof, catalogue: o.release.Catalogue(), positions: o.positions, width: lineWidth}
	warnings := 0
	for i := range stops {
		out.finding(p.Err, &stops[i], "")
		if stops[i].Grade == bom.FindingWarning {
			warnings++
			fmt.Fprintf(p.Err, "  to acknowledge: %s\n", stops[i].Key)
		}
	}
	var parts []string
	if n := len(stops) - warnings; n > 0 {
		parts = append(parts, counted(n, "fault", "faults"))
	}
	if warnings > 0 {
		parts = append(parts, counted(warnings, "warning", "warnings")+" that nobody has acknowledged")
	}
	fmt.Fprintf(p.Err, "Nothing is stored: %s.\n", strings.Join(parts, ", and "))
	return nil, errTold
}
