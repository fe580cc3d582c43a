package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/go-json-experiment/json/jsontext"

	"wainscot/api/store"
	"wainscot/bom/document"
)

type exportVerb struct {
	Database string `help:"Database: a file, or the postgres: address of a server." default:"wainscot.db" env:"WAINSCOT_DATABASE"`
	Workshop string `help:"Code of the workshop." required:"" placeholder:"CODE"`
	As       string `help:"E-mail address of the owner who does it. Left out, the workshop's only owner." placeholder:"EMAIL"`
	Release  int64  `help:"Number of the release. Left out, the latest." placeholder:"N"`
	Dir      string `arg:"" help:"Folder to write; made if it is not there. Nothing in it is written over."`
}

// Help is shown by wainscot export --help.
func (exportVerb) Help() string {
	return `Writes the workshop's catalogue as YAML files to DIR/catalogue, one for each kind of thing, and every edition of its price-book to DIR/pricebook. What wainscot import makes of them has the same hash.

Example:

  wainscot export --database wainscot.db --workshop fenland our-catalogue-and-prices`
}

// Run exports.
func (v exportVerb) Run(ctx context.Context, p *program) error {
	s, err := openStore(ctx, v.Database, p)
	if err != nil {
		return err
	}
	release, editions, err := v.read(ctx, s)
	if err = errors.Join(err, s.Close()); err != nil {
		return err
	}
	files, err := catalogueFiles(release)
	if err != nil {
		return err
	}
	for _, e := range editions {
		text, err := e.Document.Unpack()
		if err != nil {
			return err
		}
		out, err := document.YAML(text)
		if err != nil {
			return fmt.Errorf("edition %s: %w", e.Code, err)
		}
		files = append(files, newFileText{filepath.Join("pricebook", e.Code+".yaml"), out})
	}
	if err := writeNew(v.Dir, files); err != nil {
		return err
	}
	fmt.Fprintf(p.Out, "release %d and %s written to %s\n", release.Number, counted(len(editions), "edition", "editions"), v.Dir)
	return nil
}

func (v exportVerb) read(ctx context.Context, s *store.Store) (release store.Release, editions []store.Edition, err error) {
	as, err := s.Owner(ctx, v.Workshop, v.As)
	if err != nil {
		return release, nil, ownerProblem(err, v.Workshop, v.As)
	}
	err = s.As(as).Read(ctx, func(tx store.ReadTx) (err error) {
		if v.Release > 0 {
			release, err = tx.Release(v.Release)
		} else {
			release, err = tx.LatestRelease()
		}
		if errors.Is(err, store.ErrNotFound) {
			return fmt.Errorf("the workshop %s has published no such catalogue", v.Workshop)
		}
		before := ""
		for err == nil {
			var page []store.EditionEntry
			if page, err = tx.Editions(before, 200); len(page) == 0 {
				break
			}
			for _, e := range page {
				var edition store.Edition
				if edition, err = tx.Edition(e.Code); err != nil {
					return err
				}
				editions = append(editions, edition)
			}
			before = page[len(page)-1].InForceFrom
		}
		return err
	})
	return release, editions, err
}

// newFileText is a file to be written.
type newFileText struct {
	name string
	text []byte
}

// catalogueFiles splits a catalogue into files by kind of thing: what a
// workshop has few of together, the rest each alone.
func catalogueFiles(r store.Release) ([]newFileText, error) {
	text, err := r.Document.Unpack()
	if err != nil {
		return nil, err
	}
	members, err := topMembers(text)
	if err != nil {
		return nil, fmt.Errorf("release %d: %w", r.Number, err)
	}
	format := members[slices.IndexFunc(members, func(m member) bool { return m.key == "format" })]
	together := []string{"title", "trades", "stages"}
	var files []newFileText
	add := func(name string, of []member) error {
		out, err := document.YAML(object(append([]member{format}, of...)))
		files = append(files, newFileText{filepath.Join("catalogue", fmt.Sprintf("%02d-%s.yaml", len(files), strings.ReplaceAll(name, "_", "-"))), out})
		return err
	}
	var first []member
	for _, m := range members {
		if slices.Contains(together, m.key) {
			first = append(first, m)
		}
	}
	if err := add("workshop", first); err != nil {
		return nil, err
	}
	for _, m := range members {
		if m.key == "format" || slices.Contains(together, m.key) {
			continue
		}
		if err := add(m.key, []member{m}); err != nil {
			return nil, err
		}
	}
	return files, nil
}

// member of a JSON object.
type member struct {
	key   string
	value jsontext.Value
}

func topMembers(text []byte) ([]member, error) {
	d := jsontext.NewDecoder(bytes.NewReader(text))
	if _, err := d.ReadToken(); err != nil {
		return nil, err
	}
	var all []member
	for d.PeekKind() != '}' {
		name, err := d.ReadToken()
		if err != nil {
			return nil, err
		}
		m := member{key: name.String()}
		value, err := d.ReadValue()
		if err != nil {
			return nil, err
		}
		m.value = value.Clone()
		all = append(all, m)
	}
	return all, nil
}

func object(members []member) []byte {
	var b bytes.Buffer
	for i, m := range members {
		b.WriteString([]string{"{", ","}[min(i, 1)])
		fmt.Fprintf(&b, "%q:%s", m.key, m.value)
	}
	b.WriteString("}")
	return b.Bytes()
}

// writeNew writes files into a folder, or none of them if any is there.
func writeNew(dir string, files []newFileText) error {
	for _, f := range files {
		if _, err := os.Stat(filepath.Join(dir, f.name)); !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("%s is there already: name a folder without it", filepath.Join(dir, f.name))
		}
	}
	for _, f := range files {
		name := filepath.Join(dir, f.name)
		if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil { //nolint:gosec // a catalogue is no secret, and others work on it too
			return err
		}
		if err := writeWhole(name, false, func(w io.Writer) error { _, err := w.Write(f.text); return err }); err != nil {
			return err
		}
	}
	return nil
}
