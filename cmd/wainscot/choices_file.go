package main

import (
	"fmt"
	"os"
	"path/filepath"

	"wainscot/bom"
	"wainscot/bom/document"
	"wainscot/pricing"
	"wainscot/pricing/pricebook"
)

// choicesFormat is the first line of a file of choices.
const choicesFormat = "wainscot-choices/1"

// lineWidth is how wide a printout is where nobody says otherwise.
const lineWidth = 110

// choicesFile is what a customer picked, on one van, under some terms.
type choicesFile struct {
	Van     bom.Van        `yaml:"van" json:"van"`
	Choices bom.Choices    `yaml:"choices" json:"choices"`
	Terms   *pricing.Terms `yaml:"terms" json:"terms,omitempty"`
}

// fileOfChoices is what every verb takes that works on a file of choices.
type fileOfChoices struct {
	File      string `arg:"" help:"File of choices (format: ${choices_format}). docs/choices.md describes it."`
	Settle    bool   `help:"Finish what the choices leave open, each group's default first." default:"true" negatable:""`
	Day       string `help:"Day to price for, YYYY-MM-DD; decides the price-book edition and VAT. Default: what the file's terms say, else today."`
	Catalogue string `help:"Folder of catalogue files. Default: catalogue/ beside the file's own folder, else the demo built into the program." placeholder:"DIR"`
	Pricebook string `help:"Folder of price-book editions. Default as for the catalogue, pricebook/." placeholder:"DIR"`
	Width     int    `help:"Characters to a line." default:"${line_width}"`
}

func (v *fileOfChoices) validate() error {
	if v.Day != "" && !pricebook.ValidDay(v.Day) {
		return fmt.Errorf("--day %q: write it as year, month and day, 2026-12-01", v.Day)
	}
	if v.Width < 40 || v.Width > 1000 {
		return fmt.Errorf("--width %d: give 40 to 1000", v.Width)
	}
	return nil
}

// read reads the file and tells its faults.
func (v *fileOfChoices) read(p *program) (*choicesFile, document.Positions, error) {
	asked, positions, faults, err := readChoices(v.File)
	if err == nil {
		err = p.tell(faults)
	}
	return asked, positions, err
}

func (v *fileOfChoices) settle() bom.Settle {
	if v.Settle {
		return bom.SettleByDefaults
	}
	return bom.SettleNothing
}

func (v *fileOfChoices) day(p *program, asked *choicesFile) string {
	switch {
	case v.Day != "":
		return v.Day
	case asked.Terms != nil && asked.Terms.Day != "":
		return asked.Terms.Day
	}
	return p.Now().Format("2006-01-02")
}

// readChoices reads a file of choices strictly.
func readChoices(name string) (*choicesFile, document.Positions, document.Faults, error) {
	dir, base := filepath.Split(name)
	f, err := place{files: os.DirFS(filepath.Clean(dir)), name: filepath.ToSlash(dir)}.document(base)
	if err != nil {
		return nil, document.Positions{}, nil, err
	}
	var asked choicesFile
	positions, faults := document.Decode(f, &asked, choicesFormat)
	return &asked, positions, faults, nil
}

// offer reads the catalogue and price-book the flags name, or those beside the
// file, or the built-in ones.
func (v *fileOfChoices) offer(p *program) (*offer, error) {
	catalogueFolder, err := v.folder(v.Catalogue, "catalogue")
	if err != nil {
		return nil, err
	}
	bookFolder, err := v.folder(v.Pricebook, "pricebook")
	if err != nil {
		return nil, err
	}
	o, faults, err := readOffer(catalogueFolder, bookFolder)
	if err != nil {
		return nil, err
	}
	return o, p.tell(faults)
}

func (v *fileOfChoices) folder(named, usual string) (place, error) {
	if named != "" {
		return onDisk(named), nil
	}
	beside := filepath.Join(filepath.Dir(v.File), "..", usual)
	if info, err := os.Stat(beside); err == nil && info.IsDir() {
		return onDisk(beside), nil
	}
	return builtIn(usual)
}
