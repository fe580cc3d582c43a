package store

import (
	"encoding/json"
	"fmt"
	"time"

	"github.com/google/uuid"

	"wainscot/bom"
)

// Van is one real van that the workshop knows.
type Van struct {
	ID        uuid.UUID
	Version   int64
	CreatedAt time.Time
	ChangedAt time.Time
	VanContent
}

// VanContent is what is said of a van.
type VanContent struct {
	// Customer who keeps it; the nil id for nobody the workshop knows.
	Customer uuid.UUID
	// Facts of the van. Registration (as written) and VIN are personal and are
	// kept apart from the rest.
	Facts bom.Van
	// Words by which the workshop's people call it.
	Words string
	Notes string
}

// AddVan keeps a new van. A customer the workshop has not is ErrMissing, one
// who has been erased ErrErased.
func (t WriteTx) AddVan(c VanContent) (Van, error) {
	row := vanRow{ID: t.NewID(), Version: 1, CreatedUS: t.Now().UnixMicro()}
	if err := row.say(t, c); err != nil {
		return Van{}, fmt.Errorf("van: %w", err)
	}
	if err := insert(t, added, &row); err != nil {
		return Van{}, fmt.Errorf("van: %w", err)
	}
	return row.van()
}

// ChangeVan puts new content in the place of a van's. version is the one the
// change was made from, else it is ErrStale.
func (t WriteTx) ChangeVan(id uuid.UUID, version int64, c VanContent) (Van, error) {
	row, err := of[vanRow](t.ReadTx).where("id = ?", id).one()
	if err != nil {
		return Van{}, fmt.Errorf("van %s: %w", id, err)
	}
	if err := row.say(t, c); err != nil {
		return Van{}, fmt.Errorf("van %s: %w", id, err)
	}
	row.Version = version
	return t.writeVan(changed, row)
}

func (t WriteTx) writeVan(verb string, row vanRow) (Van, error) {
	stale := fmt.Errorf("van %s at version %d: %w", row.ID, row.Version, ErrStale)
	which := of[vanRow](t.ReadTx).where("id = ? AND version = ?", row.ID, row.Version)
	row.Version++
	err := change(t, verb, which, map[string]any{
		"version": row.Version, "changed_us": row.ChangedUS, "customer": row.Customer,
		"registration": row.Registration, "plate": row.Plate, "vin": row.VIN, "facts": row.Facts,
		"words": row.Words, "notes": row.Notes,
	}, stale, &row)
	if err != nil {
		return Van{}, err
	}
	return row.van()
}

// Van gives one van.
func (t ReadTx) Van(id uuid.UUID) (Van, error) {
	row, err := of[vanRow](t).where("id = ?", id).one()
	if err != nil {
		return Van{}, fmt.Errorf("van %s: %w", id, err)
	}
	return row.van()
}

// VansByID gives the vans with these ids, in no order; those that are not
// there are left out.
func (t ReadTx) VansByID(ids []uuid.UUID) (map[uuid.UUID]Van, error) {
	found := make(map[uuid.UUID]Van, len(ids))
	if len(ids) == 0 {
		return found, nil
	}
	list, err := of[vanRow](t).where("id IN ?", ids).all()
	if err != nil {
		return nil, fmt.Errorf("vans: %w", err)
	}
	for _, r := range list {
		if found[r.ID], err = r.van(); err != nil {
			return nil, err
		}
	}
	return found, nil
}

// Place in a list that runs from the newest: the last one already seen.
type Place struct {
	CreatedAt time.Time
	ID        uuid.UUID
}

// VanFilter says which vans to list.
type VanFilter struct {
	Registration string    // as typed, or its beginning; "" means any
	Customer     uuid.UUID // who keeps them; the nil id means anybody
	After        *Place    // nil begins at the newest
	Limit        int       // 0 means 50; at most 200
}

// Vans lists vans, the newest first. next is where to go on, nil at the end.
func (t ReadTx) Vans(f VanFilter) (list []Van, next *Place, err error) {
	query := of[vanRow](t)
	if plain := PlainRegistration(f.Registration); plain != "" {
		query = query.where("registration >= ? AND registration < ?", plain, past(plain))
	}
	if f.Customer != uuid.Nil {
		query = query.where("customer = ?", f.Customer)
	}
	found, next, err := page(query, f.After, f.Limit, func(r vanRow) Place { return Place{moment(r.CreatedUS), r.ID} })
	if err != nil {
		return nil, nil, fmt.Errorf("vans: %w", err)
	}
	list = make([]Van, len(found))
	for i, r := range found {
		if list[i], err = r.van(); err != nil {
			return nil, nil, err
		}
	}
	return list, next, nil
}

// VanIDs are the ids of at most limit vans that a customer keeps, the newest
// first.
func (t ReadTx) VanIDs(customer uuid.UUID, limit int) ([]uuid.UUID, error) {
	found, err := of[vanKeeperRow](t).where("customer = ?", customer).order("created_us DESC, id DESC").first(limit)
	if err != nil {
		return nil, fmt.Errorf("vans of customer %s: %w", customer, err)
	}
	ids := make([]uuid.UUID, len(found))
	for i, r := range found {
		ids[i] = r.ID
	}
	return ids, nil
}

// page gives at most limit rows, the newest first, and where to go on.
func page[R any](query rows[R], after *Place, limit int, place func(R) Place) ([]R, *Place, error) {
	query = query.order("created_us DESC, id DESC")
	if after != nil {
		query = query.where("(created_us, id) < (?, ?)", after.CreatedAt.UnixMicro(), after.ID)
	}
	limit = bounded(limit)
	found, err := query.first(limit + 1)
	if err != nil || len(found) <= limit {
		return found, nil, err
	}
	next := place(found[limit-1])
	return found[:limit], &next, nil
}

// vanKeeperRow is what tells one of a customer's vans from another.
type vanKeeperRow struct {
	WorkshopID   uuid.UUID `gorm:"primaryKey"`
	ID           uuid.UUID `gorm:"primaryKey"`
	Customer     uuid.NullUUID
	Registration string
	Plate        string
	CreatedUS    int64
}

// TableName for gorm.
func (vanKeeperRow) TableName() string { return "vans" }

type vanRow struct {
	WorkshopID   uuid.UUID `gorm:"primaryKey"`
	ID           uuid.UUID `gorm:"primaryKey"`
	Version      int64
	CreatedUS    int64
	ChangedUS    int64
	Customer     uuid.NullUUID
	Registration string
	Plate        string
	VIN          string `gorm:"column:vin"`
	Facts        string
	Words        string
	Notes        string
}

// TableName for gorm.
func (*vanRow) TableName() string { return "vans" }

func (r *vanRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

// journalled leaves the content out: a registration is personal.
func (r *vanRow) journalled() (noun, id string, content []byte) {
	return "van", r.ID.String(), nil
}

func (r *vanRow) say(t WriteTx, c VanContent) error {
	if err := t.standingIfAny(c.Customer); err != nil {
		return err
	}
	r.ChangedUS = t.Now().UnixMicro()
	r.Customer = orNull(c.Customer)
	r.Plate, r.Registration, r.VIN = c.Facts.Registration, PlainRegistration(c.Facts.Registration), c.Facts.VIN
	c.Facts.Registration, c.Facts.VIN = "", ""
	facts, err := json.Marshal(c.Facts)
	if err != nil {
		return fmt.Errorf("its facts: %w", err)
	}
	r.Facts, r.Words, r.Notes = string(facts), c.Words, c.Notes
	return nil
}

func (r *vanRow) van() (Van, error) {
	v := Van{
		ID: r.ID, Version: r.Version, CreatedAt: moment(r.CreatedUS), ChangedAt: moment(r.ChangedUS),
		VanContent: VanContent{Customer: r.Customer.UUID, Words: r.Words, Notes: r.Notes},
	}
	if err := json.Unmarshal([]byte(r.Facts), &v.Facts); err != nil {
		return v, fmt.Errorf("%w: van %s: its facts: %w", ErrDocument, r.ID, err)
	}
	v.Facts.Registration, v.Facts.VIN = r.Plate, r.VIN
	return v, nil
}

// standingIfAny: nothing is tied to a customer who has been erased. One that
// is not there is ErrMissing, before the database says so less plainly.
func (t ReadTx) standingIfAny(customer uuid.UUID) error {
	if customer == uuid.Nil {
		return nil
	}
	found, err := of[customerErasedRow](t).where("id = ?", customer).first(1)
	switch {
	case err != nil:
		return err
	case len(found) == 0:
		return fmt.Errorf("customer %s: %w", customer, ErrMissing)
	case found[0].ErasedUS != nil:
		return fmt.Errorf("customer %s: %w", customer, ErrErased)
	}
	return nil
}

// customerErasedRow says whether a customer has been erased.
type customerErasedRow struct{ ErasedUS *int64 }

// TableName for gorm.
func (customerErasedRow) TableName() string { return "customers" }

// orNull is an id as a column that may be empty has it.
func orNull(id uuid.UUID) uuid.NullUUID { return uuid.NullUUID{UUID: id, Valid: id != uuid.Nil} }
