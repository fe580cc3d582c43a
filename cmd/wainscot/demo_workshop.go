package main

import (
	"context"
	"fmt"
	"path"

	"wainscot/api"
	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/bom"
	"wainscot/bom/document"
	"wainscot/pricing/quote"
)

// workshopFormat is the first line of a file that describes a workshop.
const workshopFormat = "wainscot-workshop/1"

// workshopFile is a workshop with its people, as demo/workshop.yaml has it.
type workshopFile struct {
	Code     string       `yaml:"code" json:"code"`
	Name     string       `yaml:"name" json:"name"`
	Country  string       `yaml:"country" json:"country"`
	Currency string       `yaml:"currency" json:"currency"`
	TimeZone string       `yaml:"time_zone" json:"time_zone"`
	People   []personFile `yaml:"people" json:"people"`

	// What is printed with a quote.
	Letterhead  quote.Letterhead `yaml:"letterhead" json:"letterhead,omitzero"`
	QuoteTerms  string           `yaml:"quote_terms" json:"quote_terms,omitempty"`
	NotIncluded []string         `yaml:"not_included" json:"not_included,omitempty"`

	// What else the workshop has set; what is left out is as every workshop
	// begins.
	ValidDays          int                      `yaml:"valid_days" json:"valid_days,omitempty"`
	KeepYears          *int                     `yaml:"keep_years" json:"keep_years,omitempty"`
	EnquirySources     []string                 `yaml:"enquiry_sources" json:"enquiry_sources,omitempty"`
	CancellationRights []quote.CancellationRule `yaml:"cancellation_rights" json:"cancellation_rights,omitempty"`
}

// personFile is one of its people. Passwords stand in the open: they guard
// invented data on a database that is made anew each time.
type personFile struct {
	Name     string    `yaml:"name" json:"name"`
	Email    string    `yaml:"email" json:"email"`
	Role     auth.Role `yaml:"role" json:"role"`
	Password string    `yaml:"password" json:"password"`
}

// person is the first one in a role.
func (w *workshopFile) person(role auth.Role) (personFile, error) {
	for _, p := range w.People {
		if p.Role == role {
			return p, nil
		}
	}
	return personFile{}, fmt.Errorf("nobody in the workshop %s is in the role %s", w.Code, role)
}

// demoWorkshop reads the workshop that is built in. A fault in it, as in the
// documents below, is one of this program, not of its user.
func demoWorkshop() (*workshopFile, error) {
	folder, err := builtIn(".")
	if err != nil {
		return nil, err
	}
	f, err := folder.document("workshop.yaml")
	if err != nil {
		return nil, err
	}
	var w workshopFile
	_, faults := document.Decode(f, &w, workshopFormat)
	return &w, faults.Err()
}

// demoOffer reads the catalogue and price-book that are built in.
func demoOffer() (*offer, error) {
	catalogueFolder, err := builtIn("catalogue")
	if err != nil {
		return nil, err
	}
	bookFolder, err := builtIn("pricebook")
	if err != nil {
		return nil, err
	}
	o, faults, err := readOffer(catalogueFolder, bookFolder)
	if err != nil {
		return nil, err
	}
	return o, faults.Err()
}

// demo is all that is built in.
type demo struct {
	workshop *workshopFile
	offer    *offer
	samples  []sample
	story    []storyStep
}

func readDemo() (*demo, error) {
	var d demo
	var err error
	if d.workshop, err = demoWorkshop(); err != nil {
		return nil, err
	}
	if d.offer, err = demoOffer(); err != nil {
		return nil, err
	}
	if d.samples, err = demoChoices(); err != nil {
		return nil, err
	}
	d.story, err = readStory()
	return &d, err
}

// openDemo puts a workshop with its offer into a database.
func openDemo(ctx context.Context, s *store.Store, w *workshopFile, o *offer) error {
	as, err := openWorkshop(ctx, s, newWorkshop{
		NewWorkshop: store.NewWorkshop{Code: w.Code, Name: w.Name, Currency: w.Currency, TimeZone: w.TimeZone},
		settings:    w.settings(), people: w.People,
	})
	if err != nil {
		return err
	}
	if _, err := api.PublishRelease(ctx, as, o.release); err != nil {
		return err
	}
	for _, e := range o.book.Editions() {
		if _, err := api.AddEdition(ctx, as, e); err != nil {
			return err
		}
	}
	return nil
}

// sample is a file of choices that is built in.
type sample struct {
	name  string
	asked choicesFile
}

// demoChoices reads the files of choices that are built in, by name.
func demoChoices() ([]sample, error) {
	folder, err := builtIn("choices")
	if err != nil {
		return nil, err
	}
	files, err := folder.documents(".")
	if err != nil {
		return nil, err
	}
	samples := make([]sample, len(files))
	for i, f := range files {
		samples[i].name = path.Base(f.Name)
		if _, faults := document.Decode(f, &samples[i].asked, choicesFormat); len(faults) > 0 {
			return nil, faults
		}
	}
	return samples, nil
}

// answerAgain works out a sample by itself, for the printed table.
func (o *offer) answerAgain(s sample) (*answer, error) {
	if s.asked.Terms == nil {
		return nil, fmt.Errorf("%s has no terms, and the demo needs a day", s.name)
	}
	a, faults, err := o.answer(&s.asked, bom.SettleByDefaults, s.asked.Terms.Day)
	if err != nil {
		return nil, err
	}
	return a, faults.Err()
}
