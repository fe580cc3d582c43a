package store

import (
	"encoding/json"
	"fmt"
	"time"

	"github.com/google/uuid"

	"wainscot/pricing/job"
	"wainscot/pricing/quote"
)

// Settings are what a workshop has set, at a version.
type Settings struct {
	// Version goes up by one with every change; a workshop that has set
	// nothing yet is at 1.
	Version   int64
	ChangedAt time.Time // zero when nothing was set yet
	SettingsContent
}

// SettingsContent is what can be set. What is issued keeps the settings it was
// issued with.
type SettingsContent struct {
	// Country the workshop is in: ISO 3166-1 alpha-2.
	Country    string           `json:"country" yaml:"country"`
	Letterhead quote.Letterhead `json:"letterhead" yaml:"letterhead"`
	// QuoteTerms are the terms of sale as they are printed and accepted.
	QuoteTerms string `json:"quote_terms" yaml:"quote_terms"`
	// NotIncluded are sentences on what no quote includes.
	NotIncluded []string `json:"not_included,omitempty" yaml:"not_included"`
	// ValidDays is how long a quote stands if nobody says otherwise.
	ValidDays int `json:"valid_days" yaml:"valid_days"`
	// KeepYears is how long a customer is kept after the last that happened.
	KeepYears int `json:"keep_years" yaml:"keep_years"`
	// EnquirySources are offered to choose from; others may be written.
	EnquirySources []string `json:"enquiry_sources,omitempty" yaml:"enquiry_sources"`
	// CancellationRights by country and first day of the rule.
	CancellationRights []quote.CancellationRule `json:"cancellation_rights,omitempty" yaml:"cancellation_rights"`
	// Rework is the rule on changing what is done already.
	Rework job.Rework `json:"rework" yaml:"-"`
	// WarrantyMonths hold where neither part nor feature says anything.
	WarrantyMonths int `json:"warranty_months" yaml:"-"`
}

// What holds until a workshop sets something else. Six years is how long
// records for VAT must be kept in the United Kingdom (VAT Notice 700/21; from
// memory).
const (
	defaultValidDays = 30
	defaultKeepYears = 6
	defaultCountry   = "GB"
)

// DefaultSettings are what a workshop of a name begins with.
func DefaultSettings(name string) SettingsContent {
	return SettingsContent{
		Country: defaultCountry, Letterhead: quote.Letterhead{Name: name},
		ValidDays: defaultValidDays, KeepYears: defaultKeepYears,
		CancellationRights: quote.DefaultCancellationRules(),
		Rework:             job.DefaultRework, WarrantyMonths: job.DefaultWarrantyMonths,
	}
}

// Settings gives what the workshop has set.
func (t ReadTx) Settings() (Settings, error) {
	found, err := of[settingsRow](t).first(1)
	if err != nil {
		return Settings{}, fmt.Errorf("settings: %w", err)
	}
	if len(found) > 0 {
		return found[0].settings()
	}
	w, err := t.Workshop()
	if err != nil {
		return Settings{}, fmt.Errorf("settings: %w", err)
	}
	return Settings{Version: 1, SettingsContent: DefaultSettings(w.Name)}, nil
}

// BeginSettings sets what a workshop begins with, at version 1: before anybody
// has set anything, or it is ErrTaken.
func (t WriteTx) BeginSettings(c SettingsContent) error {
	text, err := json.Marshal(c)
	if err != nil {
		return fmt.Errorf("settings: %w", err)
	}
	document := Pack(text)
	row := settingsRow{Version: 1, ChangedUS: t.Now().UnixMicro(), Document: document.zipped, DocumentSHA256: document.sum}
	if err := insert(t, added, &row); err != nil {
		return fmt.Errorf("settings: %w", err)
	}
	t.s.ground = true
	return nil
}

// ChangeSettings sets what the workshop is called and everything else. version
// is the one the change was made from, else it is ErrStale.
func (t WriteTx) ChangeSettings(version int64, name string, c SettingsContent) (Settings, error) {
	text, err := json.Marshal(c)
	if err != nil {
		return Settings{}, fmt.Errorf("settings: %w", err)
	}
	document := Pack(text)
	t.s.ground = true
	if err := t.nameWorkshop(name); err != nil {
		return Settings{}, fmt.Errorf("settings: %w", err)
	}
	row := settingsRow{
		Version: version + 1, ChangedUS: t.Now().UnixMicro(),
		Document: document.zipped, DocumentSHA256: document.sum,
	}
	row.bind(t.s.as.Workshop)
	stale := fmt.Errorf("settings at version %d: %w", version, ErrStale)
	there, err := of[settingsRow](t.ReadTx).first(1)
	switch {
	case err != nil:
	case len(there) == 0 && version != 1:
		err = stale
	case len(there) == 0:
		err = insert(t, changed, &row)
	default:
		which := of[settingsRow](t.ReadTx).where("version = ?", version)
		err = change(t, changed, which, map[string]any{
			"version": row.Version, "changed_us": row.ChangedUS,
			"document": row.Document, "document_sha256": row.DocumentSHA256,
		}, stale, &row)
	}
	if err != nil {
		return Settings{}, fmt.Errorf("settings: %w", err)
	}
	return row.settings()
}

// nameWorkshop calls the workshop by another name, if it is another.
func (t WriteTx) nameWorkshop(name string) error {
	w, err := t.Workshop()
	if err != nil || w.Name == name {
		return err
	}
	if err := of[workshopRow](t.ReadTx).set(map[string]any{"name": name}, ErrNotFound); err != nil {
		return err
	}
	return t.append(changed, "workshop", w.ID.String(), nil)
}

type settingsRow struct {
	WorkshopID     uuid.UUID `gorm:"primaryKey"`
	Version        int64
	ChangedUS      int64
	Document       []byte
	DocumentSHA256 string `gorm:"column:document_sha256"`
}

// TableName for gorm.
func (*settingsRow) TableName() string { return "settings" }

func (r *settingsRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

func (r *settingsRow) journalled() (noun, id string, content []byte) {
	sum := digest("wainscot-settings/1", r.Version, r.ChangedUS, r.DocumentSHA256)
	return "settings", r.WorkshopID.String(), sum[:]
}

func (r *settingsRow) sealed() error {
	_, err := r.settings()
	return err
}

func (r *settingsRow) key() any { return r.WorkshopID }

func (r *settingsRow) settings() (Settings, error) {
	s := Settings{Version: r.Version, ChangedAt: moment(r.ChangedUS)}
	// What was set before there were these leaves them out.
	s.Rework, s.WarrantyMonths = job.DefaultRework, job.DefaultWarrantyMonths
	text, err := (Packed{zipped: r.Document, sum: r.DocumentSHA256}).Unpack()
	if err != nil {
		return s, fmt.Errorf("settings: %w", err)
	}
	if err := json.Unmarshal(text, &s.SettingsContent); err != nil {
		return s, fmt.Errorf("%w: settings: %w", ErrDocument, err)
	}
	return s, nil
}
