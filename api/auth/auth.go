// Package auth says who may ask: people's roles, their passwords, and the
// short-lived tokens that carry both between requests. It knows no database
// and no HTTP; time and keys come in as arguments.
package auth

import (
	"fmt"

	"github.com/google/uuid"
)

// Principal is the person a request is made by: one person of one workshop,
// in one role. The zero Principal is nobody and may do nothing.
type Principal struct {
	Workshop uuid.UUID
	Person   uuid.UUID
	Role     Role
	// SignIn is the sign-in the request rests on: every token carries one,
	// and nothing is written for it once it has ended. Nil for the program's
	// own work, which no request asks for.
	SignIn uuid.UUID
}

// Valid reports whether the principal names a workshop, a person and a known
// role.
func (p Principal) Valid() bool {
	return p.Workshop != uuid.Nil && p.Person != uuid.Nil && p.Role.Valid()
}

// Role is what a person does in the workshop; it decides what they may see
// and do.
type Role string

// The roles.
const (
	// Owner may do everything, and is the only one who may change people.
	Owner Role = "owner"
	// Sales makes quotes.
	Sales Role = "sales"
	// Workshop does the work: build sheets, stages, findings.
	Workshop Role = "workshop"
	// Books keeps the money: receipts, invoices, statements.
	Books Role = "books"
)

// Roles lists every role, in the order they are shown.
func Roles() []Role { return []Role{Owner, Sales, Workshop, Books} }

// Valid reports whether r is one of Roles.
func (r Role) Valid() bool {
	switch r {
	case Owner, Sales, Workshop, Books:
		return true
	}
	return false
}

// SeesCost reports whether the role is shown what things cost the workshop
// and the margin on them.
func (r Role) SeesCost() bool { return r == Owner || r == Books }

// ParseRole reads a role's name; the error lists the names there are.
func ParseRole(name string) (Role, error) {
	if r := Role(name); r.Valid() {
		return r, nil
	}
	return "", fmt.Errorf("role %q is not known: use one of owner, sales, workshop, books", name)
}
