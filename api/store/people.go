package store

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"

	"wainscot/api/auth"
)

// Person of a workshop.
type Person struct {
	ID    uuid.UUID
	Name  string
	Email string
	Role  auth.Role
	// Version goes up by one with every change of name or role and with
	// leaving; a new password leaves it.
	Version   int64
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

// PersonChange is what can be changed about a person.
type PersonChange struct {
	Name string
	Role auth.Role
}

// ErrLastOwner says that without this person nobody could change people any more.
var ErrLastOwner = errors.New("the workshop's only owner")

// ChangePerson changes a person who is there. version is the one the change
// was made from, else it is ErrStale; the workshop's only owner stays one, or
// it is ErrLastOwner. A new role ends tokens made for the old one: the sign-in
// has to be renewed.
func (t WriteTx) ChangePerson(id uuid.UUID, version int64, c PersonChange) (Person, error) {
	row, err := t.personAt(id, version)
	if err != nil {
		return Person{}, err
	}
	if err := t.ownerLeft(row, c.Role); err != nil {
		return Person{}, err
	}
	row.Name, row.Role = c.Name, string(c.Role)
	return t.writePerson(row, map[string]any{"name": row.Name, "role": row.Role})
}

// PersonLeaves lets a person who is there go: their sign-ins end and there are
// no more. What they did stays theirs. Version and errors are as in
// ChangePerson.
func (t WriteTx) PersonLeaves(id uuid.UUID, version int64) (Person, error) {
	row, err := t.personAt(id, version)
	if err != nil {
		return Person{}, err
	}
	if err := t.ownerLeft(row, ""); err != nil {
		return Person{}, err
	}
	if err := t.endSignIns(id, whyLeft); err != nil {
		return Person{}, err
	}
	now := t.Now().UnixMicro()
	row.LeftUS = &now
	return t.writePerson(row, map[string]any{"left_us": now})
}

// SetPassword changes the password of a person who is there and ends all their
// sign-ins: who knew the old password is out.
func (t WriteTx) SetPassword(id uuid.UUID, hash string) error {
	who := of[personRow](t.ReadTx).where("id = ? AND left_us IS NULL", id)
	absent := fmt.Errorf("person %s: %w", id, ErrNotFound)
	if err := change(t, changed, who, map[string]any{"password_hash": hash}, absent, &personRow{ID: id}); err != nil {
		return err
	}
	return t.endSignIns(id, whyPasswordSet)
}

// RenewPasswordHash puts another hash of the same password in the place of the
// one that the transaction's principal has; their sign-ins go on. ErrShutOut
// when the password has been changed meanwhile.
func (t WriteTx) RenewPasswordHash(old, renewed string) error {
	p := t.s.as.Person
	who := of[personRow](t.ReadTx).where("id = ? AND left_us IS NULL AND password_hash = ?", p, old)
	return change(t, changed, who, map[string]any{"password_hash": renewed}, ErrShutOut, &personRow{ID: p})
}

// PasswordHash is what a person's password is checked against; ErrNotFound for
// one who is not there or has left.
func (t ReadTx) PasswordHash(id uuid.UUID) (string, error) {
	row, err := of[personRow](t).where("id = ? AND left_us IS NULL", id).one()
	if err != nil {
		return "", fmt.Errorf("person %s: %w", id, err)
	}
	return row.PasswordHash, nil
}

// personAt is a person who is there, at the version given.
func (t WriteTx) personAt(id uuid.UUID, version int64) (personRow, error) {
	row, err := of[personRow](t.ReadTx).where("id = ? AND left_us IS NULL", id).one()
	switch {
	case err != nil:
		return row, fmt.Errorf("person %s: %w", id, err)
	case row.Version != version:
		return row, fmt.Errorf("person %s at version %d: %w", id, version, ErrStale)
	}
	return row, nil
}

// ownerLeft refuses what would leave the workshop without an owner.
func (t WriteTx) ownerLeft(row personRow, role auth.Role) error {
	if row.Role != string(auth.Owner) || role == auth.Owner {
		return nil
	}
	others, err := of[personRow](t.ReadTx).where("role = ? AND left_us IS NULL AND id <> ?", string(auth.Owner), row.ID).first(1)
	if err != nil {
		return fmt.Errorf("owners: %w", err)
	}
	if len(others) == 0 {
		return ErrLastOwner
	}
	return nil
}

// writePerson writes columns of a person and counts the version up.
func (t WriteTx) writePerson(row personRow, columns map[string]any) (Person, error) {
	stale := fmt.Errorf("person %s at version %d: %w", row.ID, row.Version, ErrStale)
	which := of[personRow](t.ReadTx).where("id = ? AND version = ?", row.ID, row.Version)
	row.Version++
	columns["version"] = row.Version
	if err := change(t, changed, which, columns, stale, &row); err != nil {
		return Person{}, err
	}
	return row.person(), nil
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
	Version      int64
}

// TableName for gorm.
func (*personRow) TableName() string { return peopleTable }

const peopleTable = "people"

func newPersonRow(t WriteTx, n NewPerson) personRow {
	return personRow{
		ID: t.NewID(), Name: n.Name, Email: PlainEmail(n.Email), Role: string(n.Role),
		PasswordHash: n.PasswordHash, CreatedUS: t.Now().UnixMicro(), Version: 1,
	}
}

func (r *personRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

// journalled leaves the content out: all of it is personal, and must be able
// to go while the journal still holds.
func (r *personRow) journalled() (noun, id string, content []byte) {
	return "person", r.ID.String(), nil
}

func (r *personRow) person() Person {
	p := Person{ID: r.ID, Name: r.Name, Email: r.Email, Role: auth.Role(r.Role), Version: r.Version, CreatedAt: moment(r.CreatedUS)}
	if r.LeftUS != nil {
		p.LeftAt = moment(*r.LeftUS)
	}
	return p
}
