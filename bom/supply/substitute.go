package supply

import (
	"slices"

	"github.com/shopspring/decimal"

	"wainscot/bom/catalogue"
)

// Substitute is a part taken in place of another: for one job, or for all
// that is wanted on days from one to another.
type Substitute struct {
	Part, With string
	// Job it is for; "" for all.
	Job string
	// From and Until are days both included, for all jobs; Until "" is open.
	From, Until string
}

// meets says whether a want is met by the substitute instead. Wants without a
// day are, as long as no end is set.
func (s *Substitute) meets(w *Want) bool {
	switch {
	case w.Kind != Part || w.Code != s.Part:
		return false
	case s.Job != "":
		return w.Job == s.Job
	case w.Day == "":
		return s.Until == ""
	}
	return s.From <= w.Day && (s.Until == "" || w.Day <= s.Until)
}

// Substituted are the wants with substitutes in the place of parts; those of
// one job go before those for all. One for another is not followed further.
// The wants given stay as they are.
func Substituted(c *catalogue.Catalogue, wants []Want, list []Substitute) []Want {
	if len(list) == 0 {
		return wants
	}
	ordered := slices.Clone(list)
	slices.SortStableFunc(ordered, func(a, b Substitute) int {
		switch {
		case (a.Job != "") == (b.Job != ""):
			return 0
		case a.Job != "":
			return -1
		}
		return 1
	})
	parts := make(map[string]*catalogue.Part, len(c.Parts))
	for i := range c.Parts {
		parts[c.Parts[i].Code] = &c.Parts[i]
	}
	out := slices.Clone(wants)
	for i := range out {
		for k := range ordered {
			if s := &ordered[k]; s.meets(&wants[i]) {
				out[i].Code = s.With
				if p := parts[s.With]; p != nil {
					out[i].Name, out[i].Provision = p.Name, p.Provision
				}
				break
			}
		}
	}
	return out
}

// Unlike is one way in which a substitute is not what it stands in for.
type Unlike struct {
	What UnlikeWhat
	// Was and Is are the two, in words.
	Was, Is string
	// Stops: with that it cannot stand in.
	Stops bool
}

// UnlikeWhat is what is not alike.
type UnlikeWhat string

// What can be; zero is invalid.
const (
	UnlikeUnit        UnlikeWhat = "unit"
	UnlikeDecimals    UnlikeWhat = "decimals"
	UnlikeProvision   UnlikeWhat = "provision"
	UnlikeMass        UnlikeWhat = "mass"
	UnlikeSerial      UnlikeWhat = "serial number"
	UnlikeFinish      UnlikeWhat = "finish"
	UnlikeCertificate UnlikeWhat = "certificate"
	UnlikeCaution     UnlikeWhat = "caution"
	UnlikeLoad        UnlikeWhat = "load" // of the van, with what is left
)

// Words are all there are.
func (UnlikeWhat) Words() []string {
	return []string{string(UnlikeUnit), string(UnlikeDecimals), string(UnlikeProvision), string(UnlikeMass), string(UnlikeSerial),
		string(UnlikeFinish), string(UnlikeCertificate), string(UnlikeCaution), string(UnlikeLoad)}
}

// Fit is how a part suits in the place of another.
type Fit struct {
	Unlike []Unlike
	// MassMoreKG is by how much one unit of it is heavier.
	MassMoreKG decimal.Decimal
	// Shows: the customer chose the part, so they have to say yes: a finish
	// picks it, or it is a thing with a serial number that a feature has.
	Shows bool
}

// Stops says whether it cannot stand in at all.
func (f Fit) Stops() bool {
	return slices.ContainsFunc(f.Unlike, func(u Unlike) bool { return u.Stops })
}

// FitOf holds a part against the one it is to stand in for; false where the
// catalogue has not both.
func FitOf(c *catalogue.Catalogue, part, with string) (Fit, bool) {
	at := func(code string) *catalogue.Part {
		i := slices.IndexFunc(c.Parts, func(p catalogue.Part) bool { return p.Code == code })
		if i < 0 {
			return nil
		}
		return &c.Parts[i]
	}
	was, is := at(part), at(with)
	if was == nil || is == nil || part == with {
		return Fit{}, false
	}
	f := Fit{MassMoreKG: is.MassKG.Sub(was.MassKG)}
	say := func(what UnlikeWhat, before, now string, stops bool) {
		if before != now {
			f.Unlike = append(f.Unlike, Unlike{what, before, now, stops})
		}
	}
	say(UnlikeUnit, string(was.Unit), string(is.Unit), true)
	say(UnlikeDecimals, decimal.New(int64(was.Decimals), 0).String(), decimal.New(int64(is.Decimals), 0).String(), false)
	say(UnlikeProvision, string(was.Provision), string(is.Provision), is.Provision == catalogue.Consumable)
	say(UnlikeMass, was.MassKG.String()+" kg", is.MassKG.String()+" kg", false)
	say(UnlikeSerial, keptOrNot(was.Serial), keptOrNot(is.Serial), false)
	say(UnlikeFinish, finishOf(c, part), finishOf(c, with), false)
	u := usesOf(c, part)
	for _, name := range u.certificates {
		say(UnlikeCertificate, name, "has to be given for the other part", false)
	}
	for _, caution := range u.cautions {
		say(UnlikeCaution, string(caution), "has to be looked at for the other part", false)
	}
	f.Shows = finishOf(c, part) != noFinish || was.Serial && u.featured
	return f, true
}

// Loaded adds what the van bears: so many of it are so much heavier, and so
// much is left before the work is done with it.
func (f Fit) Loaded(quantity, leftKG decimal.Decimal) Fit {
	more := f.MassMoreKG.Mul(quantity)
	if more.IsZero() {
		return f
	}
	after := leftKG.Sub(more)
	f.Unlike = append(slices.Clip(f.Unlike), Unlike{UnlikeLoad, leftKG.String() + " kg left", after.String() + " kg left", after.Sign() < 0})
	return f
}

const noFinish = "none"

// finishOf is the finish whose choice picks a part, with the choice.
func finishOf(c *catalogue.Catalogue, part string) string {
	for i := range c.Finishes {
		for _, choice := range c.Finishes[i].Choices {
			if choice.Part == part {
				return c.Finishes[i].Name + ": " + choice.Name
			}
		}
	}
	return noFinish
}

func keptOrNot(serial bool) string {
	if serial {
		return "kept"
	}
	return "not kept"
}

// uses of a part in a catalogue: what its features are cautioned of, and the
// papers of outside work that looks after the same.
type uses struct {
	certificates []string
	cautions     []catalogue.Caution
	featured     bool // a feature has it itself, and not inside a kit
}

func usesOf(c *catalogue.Catalogue, part string) (u uses) {
	holds := map[string]bool{} // kits that hold it, in however deep
	for range catalogue.MaxKitLevels {
		for i := range c.Kits {
			k := &c.Kits[i]
			holds[k.Code] = holds[k.Code] || slices.ContainsFunc(k.Items, func(i catalogue.KitItem) bool { return i.Part == part || i.Kit != "" && holds[i.Kit] })
		}
	}
	for i := range c.Features {
		f := &c.Features[i]
		itself := slices.ContainsFunc(f.Lines, func(l catalogue.Line) bool { return l.Part == part })
		if !itself && !slices.ContainsFunc(f.Lines, func(l catalogue.Line) bool { return l.Kit != "" && holds[l.Kit] }) {
			continue
		}
		u.featured = u.featured || itself
		for _, caution := range f.Caution {
			if !slices.Contains(u.cautions, caution) {
				u.cautions = append(u.cautions, caution)
			}
		}
	}
	for i := range c.OutsideWork {
		w := &c.OutsideWork[i]
		if w.Certificate != "" && slices.ContainsFunc(w.Caution, func(k catalogue.Caution) bool { return slices.Contains(u.cautions, k) }) {
			u.certificates = append(u.certificates, w.Certificate)
		}
	}
	return u
}
