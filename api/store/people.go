package store

import (
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"

	"wainscot/api/auth"
)

// Person of a workshop.
type Person struct {
	ID        uuid.UUID
	Name      string
	Email     string
	Role      auth.Role
	CreatedAt time.Time
	// LeftAt is when the person was signed out for good; zero while there.
	LeftAt time.Time
}

// NewPerson is what is needed to let somebody in. PasswordHash is made by
// auth.Passwords before the transaction.
type NewPerson struct {
	Name, Email  string
	Role         auth.Role
	PasswordHash string
}

// AddPerson lets somebody in. An e-mail address that one of the workshop's
// people has already is ErrTaken.
func (t WriteTx) AddPerson(n NewPerson) (Person, error) {
	row := newPersonRow(t, n)
	if err := insert(t, added, &row); err != nil {
		return Person{}, fmt.Errorf("person: %w", err)
	}
	return row.person(), nil
}

// Person gives one of the workshop's people, there or left.
func (t ReadTx) Person(id uuid.UUID) (Person, error) {
	row, err := of[personRow](t).where("id = ?", id).one()
	if err != nil {
		return Person{}, fmt.Errorf("person %s: %w", id, err)
	}
	return row.person(), nil
}

// People gives all of the workshop's people, by name.
func (t ReadTx) People() ([]Person, error) {
	found, err := of[personRow](t).order("name, id").all()
	if err != nil {
		return nil, fmt.Errorf("people: %w", err)
	}
	list := make([]Person, len(found))
	for i, r := range found {
		list[i] = r.person()
	}
	return list, nil
}

// SetPassword changes a person's password.
func (t WriteTx) SetPassword(id uuid.UUID, hash string) error {
	return t.changePerson(id, map[string]any{"password_hash": hash})
}

// PersonLeaves ends a person's signing in. What they did stays theirs.
func (t WriteTx) PersonLeaves(id uuid.UUID) error {
	return t.changePerson(id, map[string]any{"left_us": t.Now().UnixMicro()})
}

func (t WriteTx) changePerson(id uuid.UUID, columns map[string]any) error {
	who := of[personRow](t.ReadTx).where("id = ?", id)
	absent := fmt.Errorf("person %s: %w", id, ErrNotFound)
	return change(t, changed, who, columns, absent, &personRow{ID: id})
}

// PlainEmail is an e-mail address as it is kept and looked up: without space
// around it and in small letters.
func PlainEmail(email string) string { return strings.ToLower(strings.TrimSpace(email)) }

type personRow struct {
	WorkshopID   uuid.UUID `gorm:"primaryKey"`
	ID           uuid.UUID `gorm:"primaryKey"`
	Name         string
	Email        string
	Role         string
	PasswordHash string
	CreatedUS    int64
	LeftUS       *int64
}

// TableName for gorm.
func (*personRow) TableName() string { return "people" }

func newPersonRow(t WriteTx, n NewPerson) personRow {
	return personRow{
		ID: t.NewID(), Name: n.Name, Email: PlainEmail(n.Email), Role: string(n.Role),
		PasswordHash: n.PasswordHash, CreatedUS: t.Now().UnixMicro(),
	}
}

func (r *personRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

// journalled leaves the content out: all of it is personal, and must be able
// to go while the journal still holds.
func (r *personRow) journalled() (noun, id string, content []byte) {
	return "person", r.ID.String(), nil
}

func (r *personRow) person() Person {
	p := Person{ID: r.ID, Name: r.Name, Email: r.Email, Role: auth.Role(r.Role), CreatedAt: moment(r.CreatedUS)}
	if r.LeftUS != nil {
		p.LeftAt = moment(*r.LeftUS)
	}
	return p
}
