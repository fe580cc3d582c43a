package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/pricing/pricebook"
	"wainscot/testdata"
)

// place is a folder that documents are read from: one on disk, or one that is
// built into the program.
type place struct {
	files fs.FS
	// name is what people call it: the path they gave, or "built in".
	name string
}

// onDisk is a folder the user named.
func onDisk(dir string) place { return place{os.DirFS(dir), filepath.ToSlash(filepath.Clean(dir))} }

// builtInName is what people call a folder that is built in.
const builtInName = "the demo, built in"

// builtIn is a folder of the demo workshop.
func builtIn(folder string) (place, error) {
	sub, err := fs.Sub(testdata.Demo, path.Join("demo", folder))
	return place{sub, builtInName}, err
}

// documents reads the YAML and JSON files directly in a folder, by name.
func (p place) documents(folder string) ([]document.File, error) {
	entries, err := fs.ReadDir(p.files, folder)
	if err != nil {
		return nil, p.notRead(folder, err)
	}
	var files []document.File
	for _, e := range entries {
		name := path.Join(folder, e.Name())
		if e.IsDir() || !slices.Contains([]string{".yaml", ".yml", ".json"}, path.Ext(name)) {
			continue
		}
		f, err := p.document(name)
		if err != nil {
			return nil, err
		}
		files = append(files, f)
	}
	return files, nil
}

// document reads one file, no further than a document may be long.
func (p place) document(name string) (document.File, error) {
	f, err := p.files.Open(name)
	if err != nil {
		return document.File{}, p.notRead(name, err)
	}
	defer func() { _ = f.Close() }()
	// One byte more than allowed, so that the reader of documents sees it is too long.
	data, err := io.ReadAll(io.LimitReader(f, document.MaxFileBytes+1))
	if err != nil {
		return document.File{}, p.notRead(name, err)
	}
	return document.File{Name: path.Join(p.name, name), Data: data}, nil
}

// notRead says plainly which file could not be read, and why.
func (p place) notRead(name string, err error) error {
	var at *fs.PathError
	switch name = path.Join(p.name, name); {
	case errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("%s is not there", name)
	case errors.As(err, &at):
		return fmt.Errorf("%s: %w", name, at.Err)
	}
	return fmt.Errorf("%s: %w", name, err)
}

// offer is what a workshop offers and what it costs there.
type offer struct {
	release *bom.Release
	book    *pricebook.Book
	source  string // where the catalogue came from, for people
	// positions say where each field of the catalogue is written.
	positions document.Positions
}

// readOffer reads a catalogue and a price-book for it, and gives the faults of
// both together; with any there is no offer.
func readOffer(catalogueFolder, bookFolder place) (*offer, document.Faults, error) {
	files, err := catalogueFolder.documents(".")
	if err != nil {
		return nil, nil, fmt.Errorf("catalogue: %w", err)
	}
	if len(files) == 0 {
		return nil, nil, fmt.Errorf("catalogue: there is no .yaml or .json file in %s", catalogueFolder.name)
	}
	editions, err := bookFolder.editions()
	if err != nil {
		return nil, nil, fmt.Errorf("price-book: %w", err)
	}
	o := &offer{source: catalogueFolder.name}
	c, positions, faults := catalogue.Decode(files)
	o.positions = positions
	sound := len(faults) == 0
	if sound {
		var found document.Faults
		o.release, found = bom.Compile(c)
		faults = append(faults, positions.Locate(found)...)
	}
	// What an edition says can be held against a catalogue only if that can
	// be read; what is wrong with its own writing is told in any case.
	var compiled []*pricebook.Compiled
	for _, files := range editions {
		e, positions, found := pricebook.Decode(files)
		faults = append(faults, found...)
		if len(found) > 0 || !sound {
			continue
		}
		k, found := pricebook.Compile(c, e)
		faults = append(faults, positions.Locate(found)...)
		compiled = append(compiled, k)
	}
	if len(faults) == 0 {
		o.book, faults = pricebook.NewBook(compiled...)
	}
	if len(faults) > 0 {
		return nil, faults.Sort(), nil
	}
	return o, nil, nil
}

// editions are the files of each edition of a price-book: a file directly in
// the folder is an edition, a folder in it is an edition of several files.
func (p place) editions() ([][]document.File, error) {
	alone, err := p.documents(".")
	if err != nil {
		return nil, err
	}
	var editions [][]document.File
	for _, f := range alone {
		editions = append(editions, []document.File{f})
	}
	entries, err := fs.ReadDir(p.files, ".")
	if err != nil {
		return nil, p.notRead(".", err)
	}
	for _, e := range entries {
		if !e.IsDir() || strings.HasPrefix(e.Name(), ".") {
			continue
		}
		files, err := p.documents(e.Name())
		if err != nil {
			return nil, err
		}
		if len(files) > 0 {
			editions = append(editions, files)
		}
	}
	if len(editions) == 0 {
		return nil, fmt.Errorf("there is no .yaml or .json file in %s", p.name)
	}
	return editions, nil
}

// tell prints faults one a line to the error stream and gives errTold, or nil
// where there are none.
func (p *program) tell(faults document.Faults) error {
	if len(faults) == 0 {
		return nil
	}
	for _, f := range faults {
		fmt.Fprintln(p.Err, f.Error())
	}
	return errTold
}
