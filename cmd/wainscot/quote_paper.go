package main

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"wainscot/api/paper"
	"wainscot/bom"
	"wainscot/bom/document"
	"wainscot/pricing/quote"
)

// endings are the forms a quote is written to a file in, by the file's ending.
var endings = []string{".pdf", ".html", ".xlsx", ".csv", ".svg"}

// ending is the form a file's name asks for; false for one there is not.
func ending(name string) (string, bool) {
	e := strings.ToLower(filepath.Ext(name))
	return e, slices.Contains(endings, e)
}

// writePaper writes an answer to the file --out names: as a quote on the
// workshop's paper, which is a draft, or as its build sheet.
func (v *quoteVerb) writePaper(p *program, a *answer) error {
	form, _ := ending(v.Out)
	write := func(w io.Writer) error { return paper.SheetCSV(w, a.buildSheet()) }
	switch form {
	case ".xlsx":
		write = func(w io.Writer) error { return paper.SheetXLSX(w, a.buildSheet()) }
	case ".svg":
		write = func(w io.Writer) error { return paper.SheetSVG(w, a.buildSheet()) }
	case ".pdf", ".html":
		shop, err := v.workshop(p)
		if err != nil {
			return err
		}
		q := a.onPaper(shop)
		write = func(w io.Writer) error { return paper.QuotePDF(w, q) }
		if form == ".html" {
			write = func(w io.Writer) error { return paper.QuoteHTML(w, q) }
		}
	}
	return writeWhole(v.Out, v.Force, write)
}

// workshop is the file that has the letterhead: workshop.yaml beside the
// catalogue, or the one that is built in where the catalogue is.
func (v *quoteVerb) workshop(p *program) (*workshopFile, error) {
	folder, err := v.folder(v.Catalogue, "catalogue")
	if err != nil {
		return nil, err
	}
	if v.Catalogue == "" && folder.name == builtInName {
		return demoWorkshop()
	}
	shop := onDisk(filepath.Join(filepath.FromSlash(folder.name), ".."))
	f, err := shop.document("workshop.yaml")
	if err != nil {
		return nil, fmt.Errorf("the letterhead: %w; write it beside the catalogue as testdata/demo/workshop.yaml has it", err)
	}
	var w workshopFile
	_, faults := document.Decode(f, &w, workshopFormat)
	return &w, p.tell(faults)
}

// onPaper is the answer as a quote that is not issued: it has no number, and
// stands for no time.
func (a *answer) onPaper(w *workshopFile) paper.Quote {
	spec := a.Resolution.Specification
	d := &quote.Document{
		Release: quote.Release{Hash: a.Release.Hash(), Title: a.Release.Catalogue().Title},
		Edition: quote.Edition{Code: a.Edition.Code},
		Vans: []quote.Van{{
			Specification: spec, Sheet: a.Sheet, Priced: a.Priced.ForCustomer(),
			NotReady: bom.Ready(a.Release, spec, a.Sheet),
		}},
		Totals: a.Priced.Totals, Payments: a.Priced.Payments,
		Paper: quote.Paper{Letterhead: w.Letterhead, Terms: w.QuoteTerms, NotIncluded: w.NotIncluded},
	}
	if d.Paper.Letterhead.Name == "" {
		d.Paper.Letterhead.Name = w.Name
	}
	if w.QuoteTerms != "" {
		sum := sha256.Sum256([]byte(w.QuoteTerms))
		d.Paper.TermsSHA256 = hex.EncodeToString(sum[:])
	}
	return paper.Quote{Document: d, Catalogue: a.Release.Catalogue(), Vans: []paper.VanWords{a.vanWords()}, Draft: true}
}

func (a *answer) buildSheet() paper.BuildSheet {
	c := a.Release.Catalogue()
	return paper.BuildSheet{
		Sheet: a.Sheet, Catalogue: c, Title: "Build sheet", Day: a.Priced.Day, Van: a.vanWords(),
		LeftHandDrive: paper.LeftHandDrive(a.Resolution.Specification.Van, c),
	}
}

func (a *answer) vanWords() paper.VanWords {
	van := a.Resolution.Specification.Van
	return paper.VanWords{Registration: van.Registration, VIN: van.VIN}
}

// writeWhole writes a file so that whoever opens it finds all of it or, until
// it is finished, what was there before. A file that is there already is only
// replaced by force.
func writeWhole(name string, force bool, write func(io.Writer) error) (err error) {
	if !force {
		// Whoever is first has the name; nobody is overwritten in between.
		place, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644) //nolint:gosec // it is made to be handed on
		switch {
		case errors.Is(err, fs.ErrExist):
			return fmt.Errorf("%s is there already: choose another --out, or add --force to replace it", name)
		case err != nil:
			return notWritten(name, err)
		}
		_ = place.Close()
	}
	part, err := os.CreateTemp(filepath.Dir(name), "."+filepath.Base(name)+"-*")
	if err != nil {
		if !force {
			_ = os.Remove(name)
		}
		return notWritten(name, err)
	}
	defer func() {
		if err != nil {
			_ = part.Close()
			_ = os.Remove(part.Name())
			if !force {
				_ = os.Remove(name)
			}
		}
	}()
	if err := write(part); err != nil {
		return notWritten(name, err)
	}
	for _, finish := range []func() error{
		func() error { return part.Chmod(0o644) },
		part.Sync, part.Close,
		func() error { return os.Rename(part.Name(), name) },
	} {
		if err := finish(); err != nil {
			return notWritten(name, err)
		}
	}
	return nil
}

// notWritten says which file could not be written, without the name twice.
func notWritten(name string, err error) error {
	if at, ok := errors.AsType[*fs.PathError](err); ok {
		err = at.Err
	}
	return fmt.Errorf("%s: %w", name, err)
}
