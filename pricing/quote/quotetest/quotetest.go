// Package quotetest gives tests the demo workshop, ready to quote with. What it
// returns for all is made once and must not be changed. All of it panics where
// the demo's files do not hold: then no test means anything.
package quotetest

import (
	"io/fs"
	"path"
	"sync"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/pricing"
	"wainscot/pricing/pricebook"
	"wainscot/pricing/quote"
	"wainscot/testdata"
)

// files are those of the demo that match a pattern, at least one.
func files(pattern string) []document.File {
	names, err := fs.Glob(testdata.Demo, pattern)
	if err != nil || len(names) == 0 {
		panic("the demo has no " + pattern)
	}
	list := make([]document.File, len(names))
	for i, name := range names {
		data, err := testdata.Demo.ReadFile(name)
		if err != nil {
			panic(err)
		}
		list[i] = document.File{Name: path.Base(name), Data: data}
	}
	return list
}

func must(faults document.Faults) {
	if err := faults.Err(); err != nil {
		panic(err)
	}
}

// Catalogue is the demo's catalogue, read anew: the caller may change it.
func Catalogue() *catalogue.Catalogue {
	c, _, faults := catalogue.Decode(files("demo/catalogue/*.yaml"))
	must(faults)
	return c
}

// Release is the demo's catalogue, ready.
var Release = sync.OnceValue(func() *bom.Release {
	r, faults := bom.Compile(Catalogue())
	must(faults)
	return r
})

// Edition is an edition of the demo's price-book, read anew: the caller may
// change it.
func Edition(code string) *pricebook.Edition {
	e, _, faults := pricebook.Decode(files("demo/pricebook/" + code + ".yaml"))
	must(faults)
	return e
}

var books = struct {
	sync.Mutex
	ready map[string]*pricebook.Compiled // by the edition's code
}{ready: map[string]*pricebook.Compiled{}}

// Book is an edition of the demo's price-book, ready.
func Book(edition string) *pricebook.Compiled {
	books.Lock()
	defer books.Unlock()
	if k, ok := books.ready[edition]; ok {
		return k
	}
	k, faults := pricebook.Compile(Release().Catalogue(), Edition(edition))
	must(faults)
	books.ready[edition] = k
	return k
}

// Offer is the demo's release 1 with an edition.
func Offer(edition string) quote.Offer {
	return quote.Offer{Number: 1, Release: Release(), Book: Book(edition)}
}

// Choices is a file of choices.
type Choices struct {
	Format  string         `yaml:"format" json:"format"`
	Van     bom.Van        `yaml:"van" json:"van"`
	Choices bom.Choices    `yaml:"choices" json:"choices"`
	Terms   *pricing.Terms `yaml:"terms" json:"terms,omitempty"`
}

// Names are those of the demo's files of choices.
func Names() []string {
	var names []string
	for _, f := range files("demo/choices/*.yaml") {
		names = append(names, f.Name[:len(f.Name)-len(".yaml")])
	}
	return names
}

// Chosen is one of the demo's files of choices.
func Chosen(name string) Choices {
	var c Choices
	_, faults := document.Decode(files("demo/choices/" + name + ".yaml")[0], &c, "")
	must(faults)
	return c
}

// Van is a van to be quoted for as a file of choices says, which nothing on it
// tells from others.
func Van(name string) quote.AskedVan {
	c := Chosen(name)
	c.Van.Registration, c.Van.VIN = "", ""
	v := quote.AskedVan{Van: "van-" + name, Facts: c.Van, Choices: c.Choices, Settle: bom.SettleByDefaults}
	if c.Terms != nil {
		v.Additions = c.Terms.Additions
	}
	return v
}
