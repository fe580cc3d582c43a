package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"wainscot/api/store"
)

type backupVerb struct {
	Database string `help:"Database: a file, or the postgres: address of a server." default:"wainscot.db" env:"WAINSCOT_DATABASE"`
	To       string `help:"File to write; it must not be there." required:"" placeholder:"FILE"`
}

// Help is shown by wainscot backup --help.
func (backupVerb) Help() string {
	return `Writes everything the workshops have, as it is at one moment, into one file, while the server goes on serving. The file is read back before it is called done. It holds personal data: keep it as you keep the database.

The file is zstd of lines of JSON, and can be restored into a file or into PostgreSQL, whichever it came from. Sign-ins are not in it: after a restore everybody signs in again.

Example:

  wainscot backup --database wainscot.db --to wainscot-2026-11-25.backup`
}

// Run writes a backup and reads it back.
func (v backupVerb) Run(ctx context.Context, p *program) error {
	var made store.Backup
	err := newFile(v.To, func(f *os.File) (err error) {
		made, err = store.WriteBackup(ctx, v.Database, f, p.Now())
		if err != nil {
			return err
		}
		if _, err := f.Seek(0, 0); err != nil {
			return err
		}
		read, err := store.CheckBackup(bufio.NewReader(f))
		if err == nil && read != made {
			err = errors.New("what is read back is not what was written")
		}
		return err
	})
	if err != nil {
		return fmt.Errorf("%s: %w", v.To, err)
	}
	p.sayBackup("Backed up", store.Shown(v.Database), v.To, made)
	return nil
}

type restoreVerb struct {
	From     string `help:"Backup to read." required:"" placeholder:"FILE"`
	Database string `help:"Where to: a file that is not there, or the postgres: address of a migrated database without workshops." xor:"what" env:"WAINSCOT_DATABASE"`
	Check    bool   `help:"Only read the backup to its end and hold it against its own sum." xor:"what"`
}

// Help is shown by wainscot restore --help.
func (restoreVerb) Help() string {
	return `Puts a backup into a database that holds nothing yet, reads every row back, holds them against the sum in the backup, and verifies every workshop's journal. Only then is the database there under its name.

Example:

  wainscot restore --from wainscot-2026-11-25.backup --database wainscot.db`
}

// Run restores a backup, or checks it.
func (v restoreVerb) Run(ctx context.Context, p *program) (err error) {
	f, err := os.Open(v.From)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	from := bufio.NewReader(f)
	if v.Check {
		found, err := store.CheckBackup(from)
		if err != nil {
			return fmt.Errorf("%s: %w", v.From, err)
		}
		p.sayBackup("Checked", v.From, "", found)
		return nil
	}
	if v.Database == "" {
		return errors.New("name the database to restore into with --database, or --check the backup only")
	}
	restored, err := v.restore(ctx, from)
	if err != nil {
		return fmt.Errorf("%s: %w", v.From, err)
	}
	p.sayBackup("Restored", v.From, store.Shown(v.Database), restored)
	return nil
}

func (v restoreVerb) restore(ctx context.Context, from *bufio.Reader) (store.Backup, error) {
	file, ok := store.AtFile(v.Database)
	if !ok {
		return store.Restore(ctx, v.Database, from)
	}
	if _, err := os.Stat(file); !errors.Is(err, fs.ErrNotExist) {
		return store.Backup{}, fmt.Errorf("%s is there already: name one that is not", file)
	}
	// Under another name until it is proved whole.
	half := file + ".half-restored"
	if _, err := os.Stat(half); !errors.Is(err, fs.ErrNotExist) {
		return store.Backup{}, fmt.Errorf("%s is left from a restore that was broken off: remove it first", half)
	}
	restored, err := func() (store.Backup, error) {
		if _, err := store.Migrate(ctx, half); err != nil {
			return store.Backup{}, err
		}
		return store.Restore(ctx, half, from)
	}()
	if err != nil {
		for _, name := range []string{half, half + "-wal", half + "-shm"} {
			if gone := os.Remove(name); gone != nil && !errors.Is(gone, fs.ErrNotExist) {
				err = errors.Join(err, gone)
			}
		}
		return restored, err
	}
	if err := os.Rename(half, file); err != nil {
		return restored, err
	}
	return restored, flushFolder(filepath.Dir(file))
}

func (p *program) sayBackup(done, from, to string, b store.Backup) {
	if to != "" {
		from += " to " + to
	}
	workshops := "workshops"
	if b.Workshops == 1 {
		workshops = "workshop"
	}
	fmt.Fprintf(p.Out, "%s %s: %d %s, %d rows, migration %d.\nSHA-256 of its content: %s\n", done, from, b.Workshops, workshops, b.Rows, b.Migration, b.SHA256)
}

// newFile makes a file that was not there, readable by nobody else, and leaves
// nothing behind if write fails: under its name it is there only when it is
// whole and on the disk.
func newFile(name string, write func(*os.File) error) (err error) {
	if _, err := os.Stat(name); !errors.Is(err, fs.ErrNotExist) {
		return errors.New("it is there already: name one that is not")
	}
	f, err := os.CreateTemp(filepath.Dir(name), filepath.Base(name)+".*.half")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(f.Name()))
		}
	}()
	if err := write(f); err != nil {
		return errors.Join(err, f.Close())
	}
	if err := errors.Join(f.Sync(), f.Close()); err != nil {
		return err
	}
	if err := os.Rename(f.Name(), name); err != nil {
		return err
	}
	return flushFolder(filepath.Dir(name))
}

// flushFolder puts a folder's names on the disk.
func flushFolder(name string) error {
	d, err := os.Open(name)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
