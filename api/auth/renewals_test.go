package auth

import (
	"errors"
	"strings"
	"testing"

	"github.com/google/uuid"
)

func renewal(t testing.TB) Renewal {
	t.Helper()
	r, err := NewRenewal(seller.Workshop, seller.SignIn)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// A renewal comes back from its text whole; the next one has the family's part
// and another of its own, and no two families share anything.
func TestRenewals(t *testing.T) {
	t.Parallel()
	first := renewal(t)
	if back, err := ParseRenewal(first.Token()); err != nil || back != first {
		t.Errorf("%v, %v", back, err)
	}
	next, err := first.Next()
	if err != nil {
		t.Fatal(err)
	}
	if next.FamilyHash() != first.FamilyHash() || next.NewestHash() == first.NewestHash() || next.SignIn != first.SignIn || next.Workshop != first.Workshop {
		t.Error("the next renewal is not of the same family, or is the same")
	}
	other := renewal(t)
	if other.FamilyHash() == first.FamilyHash() || other.NewestHash() == first.NewestHash() {
		t.Error("two sign-ins share a secret")
	}
	if first.FamilyHash() == first.NewestHash() || strings.Contains(first.Token(), first.NewestHash()) {
		t.Error("a hash gives a secret away")
	}
}

func TestWhatIsNoRenewal(t *testing.T) {
	t.Parallel()
	good := renewal(t).Token()
	for name, text := range map[string]string{
		"nothing": "", "short": good[:len(good)-1], "long": good + "A", "padded": good + "=",
		"other letters": "!" + good[1:], "standard letters": "+" + good[1:], "a line": good[:40] + "\n" + good[41:],
	} {
		if r, err := ParseRenewal(text); !errors.Is(err, ErrRenewal) || r != (Renewal{}) {
			t.Errorf("%s: %v, %v", name, r, err)
		}
	}
}

func FuzzParseRenewal(f *testing.F) {
	r := Renewal{Workshop: uuid.UUID{1}, SignIn: uuid.UUID{2}}
	f.Add(r.Token())
	f.Add("")
	f.Fuzz(func(t *testing.T, text string) {
		r, err := ParseRenewal(text)
		if err == nil && r.Token() != text {
			t.Errorf("%q reads as %q", text, r.Token())
		}
	})
}
