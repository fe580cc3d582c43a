package apitest

import (
	"context"
	"encoding/base64"
	"fmt"
	"net/http"
	"strings"
	"sync"
	"testing"
	"time"

	"golang.org/x/crypto/argon2"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/openapi"
)

// comeIn signs the person of a role in with the password.
func (w *world) comeIn(t testing.TB, of *Workshop, role auth.Role) openapi.SignedIn {
	t.Helper()
	return w.comeInAs(t, of, of.Email[role], of.Password[role])
}

func (w *world) comeInAs(t testing.TB, of *Workshop, email, password string) openapi.SignedIn {
	t.Helper()
	var in openapi.SignedIn
	w.exchange(t, call{method: http.MethodPost, path: "/v1/sign-in", of: of, body: map[string]any{
		"workshop": of.Code, "email": email, "password": password,
	}}).into(t, http.StatusOK, &in)
	return in
}

// renew exchanges a renewal token.
func (w *world) renew(t testing.TB, of *Workshop, token string) got {
	t.Helper()
	return w.exchange(t, call{method: http.MethodPost, path: "/v1/sign-in/renew", of: of, body: map[string]any{"renewal_token": token}})
}

// may asks for something that everybody signed in may see.
func (w *world) may(t testing.TB, of *Workshop, token string, want bool) {
	t.Helper()
	g := w.exchange(t, call{method: http.MethodGet, path: "/v1/base-vans", of: of, token: token})
	if want && g.status != http.StatusOK {
		t.Errorf("the token gets %d: %s", g.status, g.body)
	}
	if !want {
		g.want(t, http.StatusUnauthorized, openapi.ProblemCodeNotSignedIn)
		if !strings.Contains(g.header.Get("Www-Authenticate"), `error="invalid_token"`) {
			t.Errorf("challenge %q", g.header.Get("Www-Authenticate"))
		}
	}
}

func TestRenewal(t *testing.T) {
	w := newWorld(t)
	in := w.comeIn(t, w.Ours, auth.Sales)
	if want := w.Clock.Now().Add(auth.SignInIdle); in.RenewalExpiresAt.Sub(want).Abs() > time.Minute {
		t.Errorf("can be renewed until %v", in.RenewalExpiresAt)
	}
	old := in.RenewalToken
	for range 3 {
		w.Clock.Advance(time.Hour) // the token has long run out
		w.may(t, w.Ours, in.Token, false)
		var next openapi.SignedIn
		w.renew(t, w.Ours, in.RenewalToken).into(t, http.StatusOK, &next)
		if next.RenewalToken == in.RenewalToken || next.Token == in.Token || next.Person.Id != in.Person.Id || next.Workshop != in.Workshop {
			t.Errorf("renewed to %+v", next)
		}
		in = next
		w.may(t, w.Ours, in.Token, true)
	}
	// An old one used again ends it for both who hold it, at once.
	g := w.renew(t, w.Ours, old)
	p := g.want(t, http.StatusUnauthorized, openapi.ProblemCodeNotSignedIn)
	if !strings.Contains(p.Detail, "used before") {
		t.Errorf("it says %q", p.Detail)
	}
	w.may(t, w.Ours, in.Token, false)
	w.renew(t, w.Ours, in.RenewalToken).want(t, http.StatusUnauthorized, openapi.ProblemCodeNotSignedIn)
	for _, bad := range []string{strings.Repeat("A", 128), "not-a-renewal-token-at-all", in.Token[:100]} {
		w.renew(t, w.Ours, bad).want(t, http.StatusUnauthorized, openapi.ProblemCodeNotSignedIn)
	}
	if log := w.Log.String(); strings.Contains(log, old) || strings.Contains(log, in.RenewalToken) {
		t.Error("a renewal token is in the log")
	}
}

// The last renewal before the end of the 90 days says so.
func TestRenewalsEnd(t *testing.T) {
	w := newWorld(t)
	begun := w.Clock.Now()
	in := w.comeIn(t, w.Ours, auth.Sales)
	for range 3 {
		w.Clock.Advance(25 * 24 * time.Hour)
		w.renew(t, w.Ours, in.RenewalToken).into(t, http.StatusOK, &in)
	}
	if want := begun.Add(auth.SignInLongest); in.RenewalExpiresAt.Sub(want).Abs() > time.Minute {
		t.Errorf("can be renewed until %v, and the end is %v", in.RenewalExpiresAt, want)
	}
	w.Clock.Advance(20 * 24 * time.Hour)
	w.renew(t, w.Ours, in.RenewalToken).want(t, http.StatusUnauthorized, openapi.ProblemCodeNotSignedIn)
}

func TestSignOut(t *testing.T) {
	w := newWorld(t)
	in, other := w.comeIn(t, w.Ours, auth.Sales), w.comeIn(t, w.Ours, auth.Sales)
	out := call{method: http.MethodPost, path: "/v1/sign-out", of: w.Ours, token: in.Token}
	if g := w.exchange(t, out); g.status != http.StatusNoContent || len(g.body) > 0 {
		t.Errorf("%d %s", g.status, g.body)
	}
	w.may(t, w.Ours, in.Token, false)
	w.renew(t, w.Ours, in.RenewalToken).want(t, http.StatusUnauthorized, openapi.ProblemCodeNotSignedIn)
	w.exchange(t, out).want(t, http.StatusUnauthorized, openapi.ProblemCodeNotSignedIn)
	w.may(t, w.Ours, other.Token, true) // the other window stays
	w.exchange(t, call{method: http.MethodPost, path: "/v1/sign-out", of: w.Ours}).want(t, http.StatusUnauthorized, openapi.ProblemCodeNotSignedIn)

	everywhere := call{method: http.MethodPost, path: "/v1/people/" + other.Person.Id + "/sign-out", of: w.Ours, role: auth.Owner}
	if g := w.exchange(t, everywhere); g.status != http.StatusNoContent {
		t.Errorf("%d %s", g.status, g.body)
	}
	w.may(t, w.Ours, other.Token, false)
	w.may(t, w.Ours, w.comeIn(t, w.Ours, auth.Sales).Token, true)
}

// TestShutOutAtOnce: leaving and a new role hold from the next request on, and
// on a second server at the latest when what it remembers is too old.
func TestShutOutAtOnce(t *testing.T) {
	w := newWorld(t)
	elsewhere := w.another(t)
	in := w.comeIn(t, w.Ours, auth.Sales)
	w.may(t, w.Ours, in.Token, true)
	elsewhere.may(t, w.Ours, in.Token, true)

	change := func(path string, body any) openapi.Person {
		t.Helper()
		method := http.MethodPost
		if body != nil {
			method = http.MethodPut
		}
		g := w.exchange(t, call{method: http.MethodGet, path: "/v1/people/" + in.Person.Id, of: w.Ours, role: auth.Owner})
		var p openapi.Person
		w.exchange(t, call{
			method: method, path: "/v1/people/" + in.Person.Id + path, of: w.Ours, role: auth.Owner, body: body,
			header: http.Header{"If-Match": {g.header.Get("Etag")}},
		}).into(t, http.StatusOK, &p)
		return p
	}
	changed := change("", map[string]any{"name": "Idris Fell", "role": "workshop"})
	if changed.Role != openapi.RoleWorkshop || changed.Version != 2 {
		t.Errorf("%+v", changed)
	}
	w.may(t, w.Ours, in.Token, false)
	// The other server has not looked again yet for reading; for writing it
	// looks in the transaction itself.
	person := call{method: http.MethodPost, path: "/v1/customers", of: w.Ours, token: in.Token, body: w.example(t, http.MethodPost, "/v1/customers")}
	elsewhere.exchange(t, person).want(t, http.StatusUnauthorized, openapi.ProblemCodeNotSignedIn)
	w.Clock.Advance(3 * time.Second)
	elsewhere.may(t, w.Ours, in.Token, false)

	w.renew(t, w.Ours, in.RenewalToken).into(t, http.StatusOK, &in)
	if in.Person.Role != openapi.RoleWorkshop {
		t.Errorf("renewed as %s", in.Person.Role)
	}
	w.may(t, w.Ours, in.Token, true)
	if left := change("/leave", nil); left.LeftAt.IsZero() || left.Version != 3 {
		t.Errorf("%+v", left)
	}
	w.may(t, w.Ours, in.Token, false)
	w.renew(t, w.Ours, in.RenewalToken).want(t, http.StatusUnauthorized, openapi.ProblemCodeNotSignedIn)
	w.exchange(t, call{method: http.MethodPost, path: "/v1/sign-in", of: w.Ours, body: map[string]any{
		"workshop": w.Ours.Code, "email": w.Ours.Email[auth.Sales], "password": w.Ours.Password[auth.Sales],
	}}).want(t, http.StatusUnauthorized, openapi.ProblemCodeSignInRefused)
}

func TestLastOwner(t *testing.T) {
	w := newWorld(t)
	path := "/v1/people/" + w.Ours.Principal[auth.Owner].Person.String()
	seen := http.Header{"If-Match": {`"1"`}}
	for _, c := range []call{
		{method: http.MethodPut, path: path, body: map[string]any{"name": "Nora", "role": "books"}},
		{method: http.MethodPost, path: path + "/leave"},
	} {
		c.of, c.role, c.header = w.Ours, auth.Owner, seen
		w.exchange(t, c).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	}
}

// TestPasswords: an owner sets anybody's, everybody their own by the one in
// use, and who knew the old one is out.
func TestPasswords(t *testing.T) {
	w := newWorld(t)
	id := func(of *Workshop, role auth.Role) string { return of.Principal[role].Person.String() }
	set := func(as auth.Role, whose, password, current string) got {
		t.Helper()
		body := map[string]any{"password": password}
		if current != "" {
			body["current_password"] = current
		}
		return w.exchange(t, call{method: http.MethodPut, path: "/v1/people/" + whose + "/password", of: w.Ours, role: as, body: body})
	}
	books := w.comeIn(t, w.Ours, auth.Books)
	for name, g := range map[string]got{
		"another's":        set(auth.Sales, id(w.Ours, auth.Books), "a-new-password-1", w.Ours.Password[auth.Books]),
		"an owner's":       set(auth.Books, id(w.Ours, auth.Owner), "a-new-password-1", w.Ours.Password[auth.Owner]),
		"of nobody's here": set(auth.Sales, id(w.Theirs, auth.Books), "a-new-password-1", ""),
	} {
		if g.status != http.StatusForbidden {
			t.Errorf("%s: %d %s", name, g.status, g.body)
		}
	}
	set(auth.Owner, id(w.Theirs, auth.Books), "a-new-password-1", "").want(t, http.StatusNotFound, openapi.ProblemCodeNotFound)
	for name, current := range map[string]string{"none": "", "wrong": "not-the-one-in-use"} {
		p := set(auth.Sales, id(w.Ours, auth.Sales), "a-new-password-1", current).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodePasswordRefused)
		if len(p.Errors) != 1 || p.Errors[0].Field != "/current_password" {
			t.Errorf("%s: %+v", name, p.Errors)
		}
	}
	if g := set(auth.Sales, id(w.Ours, auth.Sales), "a-new-password-1", w.Ours.Password[auth.Sales]); g.status != http.StatusNoContent {
		t.Errorf("one's own: %d %s", g.status, g.body)
	}
	w.may(t, w.Ours, w.Ours.Token[auth.Sales], false)
	w.may(t, w.Ours, w.comeInAs(t, w.Ours, w.Ours.Email[auth.Sales], "a-new-password-1").Token, true)

	w.may(t, w.Ours, books.Token, true)
	if g := set(auth.Owner, id(w.Ours, auth.Books), "a-new-password-2", ""); g.status != http.StatusNoContent {
		t.Errorf("by an owner: %d %s", g.status, g.body)
	}
	w.may(t, w.Ours, books.Token, false)
	w.renew(t, w.Ours, books.RenewalToken).want(t, http.StatusUnauthorized, openapi.ProblemCodeNotSignedIn)
	w.comeInAs(t, w.Ours, w.Ours.Email[auth.Books], "a-new-password-2")
	if log := w.Log.String(); strings.Contains(log, "a-new-password") {
		t.Error("a password is in the log")
	}
}

// TestOutdatedHash: a password whose hash was made at another cost is hashed
// anew when it is next found good, by however many at once, and nobody is shut
// out by it.
func TestOutdatedHash(t *testing.T) {
	w := newWorld(t)
	us, role := w.Ours, auth.Sales
	before := w.comeIn(t, us, role)
	salt := []byte("a salt of 16 byt")
	in64 := base64.RawStdEncoding.EncodeToString
	old := "$argon2id$v=19$m=256,t=2,p=1$" + in64(salt) + "$" + in64(argon2.IDKey([]byte(us.Password[role]), salt, 2, 256, 1, 32))
	hash := func() (hash string) {
		t.Helper()
		err := w.Store.As(us.Principal[role]).Read(t.Context(), func(tx store.ReadTx) (err error) {
			hash, err = tx.PasswordHash(us.Principal[role].Person)
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		return hash
	}
	todays := hash()
	err := w.Store.As(us.Principal[role]).Write(t.Context(), func(tx store.WriteTx) error { return tx.RenewPasswordHash(todays, old) })
	if err != nil {
		t.Fatal(err)
	}
	in := call{of: us, role: role, method: http.MethodPost, path: "/v1/sign-in", body: map[string]any{"workshop": us.Code, "email": us.Email[role], "password": "not-the-password"}}
	if w.send(in); hash() != old {
		t.Error("a wrong password changed the hash")
	}
	in.body = map[string]any{"workshop": us.Code, "email": us.Email[role], "password": us.Password[role]}
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() {
			if g := w.send(in); g.Code != http.StatusOK {
				t.Errorf("signing in: %d %s", g.Code, g.Body)
			}
		})
	}
	all.Wait()
	renewed := hash()
	if !strings.HasPrefix(renewed, "$argon2id$v=19$m=19456,t=2,p=1$") || renewed == todays {
		t.Errorf("the hash is now %.40s…", renewed)
	}
	w.may(t, us, before.Token, true)
	w.comeIn(t, us, role)
	if hash() != renewed {
		t.Error("a hash of today was made anew")
	}
	w.verify(t, us)
}

func TestPeople(t *testing.T) {
	w := newWorld(t)
	made := w.exchange(t, let(w, "Robin@Withermere.Example", ""))
	var p openapi.Person
	made.into(t, http.StatusCreated, &p)
	if p.Email != "robin@withermere.example" || p.Role != openapi.RoleSales || p.Version != 1 || strings.Contains(string(made.body), "password") {
		t.Errorf("%s", made.body)
	}
	read := w.exchange(t, call{method: http.MethodGet, path: made.header.Get("Location"), of: w.Ours, role: auth.Owner})
	if string(read.body) != string(made.body) || read.header.Get("Etag") != `"1"` {
		t.Errorf("reads %s with ETag %s", read.body, read.header.Get("Etag"))
	}
	taken := w.exchange(t, let(w, "ROBIN@withermere.example", "")).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	if len(taken.Errors) != 1 || taken.Errors[0].Field != "/email" {
		t.Errorf("%+v", taken)
	}
	var list openapi.People
	w.exchange(t, call{method: http.MethodGet, path: "/v1/people", of: w.Ours, role: auth.Owner}).into(t, http.StatusOK, &list)
	if len(list.People) != len(auth.Roles())+1 {
		t.Errorf("%d people", len(list.People))
	}
}

// TestJournal: every line, in order, chained, and nobody's name in it.
func TestJournal(t *testing.T) {
	w := newWorld(t)
	w.exchange(t, let(w, "robin@withermere.example", "")).into(t, http.StatusCreated, &openapi.Person{})
	var all []openapi.JournalLine
	for after := int64(0); ; {
		var page openapi.Journal
		g := w.exchange(t, call{method: http.MethodGet, path: fmt.Sprintf("/v1/journal?limit=3&after=%d", after), of: w.Ours, role: auth.Books})
		g.into(t, http.StatusOK, &page)
		if len(page.Lines) == 0 {
			break
		}
		for _, name := range []string{"Robin", "robin@", "Idris"} {
			if strings.Contains(string(g.body), name) {
				t.Errorf("the journal holds %q", name)
			}
		}
		all = append(all, page.Lines...)
		after = page.Lines[len(page.Lines)-1].Line
	}
	for i, l := range all {
		if l.Line != int64(i+1) || len(l.Hash) != 64 || l.At.IsZero() {
			t.Errorf("line %d: %+v", i+1, l)
		}
	}
	if last := all[len(all)-1]; last.Verb != "added" || last.Noun != "person" || last.Person != w.Ours.Principal[auth.Owner].Person.String() {
		t.Errorf("the last line is %+v", last)
	}
	var head store.JournalHead
	err := w.Store.As(w.Ours.Principal[auth.Owner]).Read(context.Background(), func(tx store.ReadTx) (err error) {
		head, err = tx.VerifyJournal()
		return err
	})
	if err != nil || fmt.Sprintf("%x", head.Hash) != all[len(all)-1].Hash {
		t.Errorf("the head is %x, %v", head.Hash, err)
	}
}
