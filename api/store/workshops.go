package store

import (
	"time"

	"github.com/google/uuid"
)

// Workshop is a tenant.
type Workshop struct {
	ID uuid.UUID
	// Code is what its people name it by when they sign in.
	Code string
	Name string
	// Currency it works in: an ISO 4217 code.
	Currency string
	// TimeZone, an IANA name, in which its days begin and end.
	TimeZone  string
	CreatedAt time.Time
}

// NewWorkshop is what is needed to open one.
type NewWorkshop struct{ Code, Name, Currency, TimeZone string }

// Workshop gives the workshop the transaction is bound to.
func (t ReadTx) Workshop() (Workshop, error) {
	row, err := of[workshopRow](t).one()
	return row.workshop(), err
}

type workshopRow struct {
	WorkshopID uuid.UUID `gorm:"primaryKey"`
	Code       string
	Name       string
	Currency   string
	TimeZone   string
	CreatedUS  int64
}

// TableName for gorm.
func (workshopRow) TableName() string { return "workshops" }

func (r workshopRow) workshop() Workshop {
	return Workshop{
		ID: r.WorkshopID, Code: r.Code, Name: r.Name, Currency: r.Currency,
		TimeZone: r.TimeZone, CreatedAt: moment(r.CreatedUS),
	}
}
