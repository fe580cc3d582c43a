package api

import (
	"bytes"
	"compress/gzip"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/store"
	"wainscot/bom/document"
	"wainscot/openapi"
	"wainscot/pricing/money"
	"wainscot/pricing/statement"
)

// Limits of a file that is taken in.
const (
	// maxFileBytes of it when it is unpacked.
	maxFileBytes = 64 << 20
	// pieceLines of a statement are kept at once; a longer one is kept piece by
	// piece, so that nobody waits long meanwhile.
	pieceLines = 10_000
)

// importStatement takes in a file of a bank. Everything is read and held
// against what is known before anything is kept.
func (s *Server) importStatement(c *gin.Context) error {
	asked, err := decode[openapi.NewStatement](c)
	if err != nil {
		return err
	}
	file, err := fileOf(asked.Content)
	if err != nil {
		return err
	}
	with, err := s.readWith(c, askedID(asked.Account), askedID(asked.Columns))
	if err != nil {
		return err
	}
	list, faults := statement.Read(file, with)
	if len(faults) > 0 {
		return fileRefused(faults)
	}
	pieces, err := s.piecesOf(c, list, askedID(asked.Account))
	if err != nil {
		return err
	}
	return s.keepStatements(c, pieces)
}

// keepStatements keeps what is new, and applies what is certain where the
// workshop allows it.
func (s *Server) keepStatements(c *gin.Context, pieces []piece) error {
	certain := false
	err := s.readTx(c, func(tx store.ReadTx) error {
		books, err := tx.Books()
		certain = books.ApplyCertain
		return err
	})
	if err != nil {
		return err
	}
	if certain {
		if done, err := s.servedBefore(c); done || err != nil {
			return err
		}
	}
	// The last are kept with the answer, those before by themselves, and all of
	// them where something is to follow: they are found as known when the request
	// comes again.
	told, all, accounts := progressFor(c), linesOf(pieces), accountsOf(pieces)
	body := openapi.StatementImport{Statements: []openapi.ImportedStatement{}}
	for len(pieces) > 0 && (certain || len(pieces) > 1 && linesOf(pieces) > pieceLines) {
		told.tell(openapi.ProgressStepLinesKept, all-linesOf(pieces), all)
		err := s.store.As(principal(c)).Write(c.Request.Context(), func(tx store.WriteTx) error {
			done, err := keepPiece(tx, pieces[0])
			if err == nil {
				body.Statements = append(body.Statements, contractImported(done))
			}
			return err
		})
		if err != nil {
			return fileRefusedBy(err)
		}
		pieces = pieces[1:]
	}
	told.tell(openapi.ProgressStepLinesKept, all-linesOf(pieces), all)
	if certain {
		if body.Certain, err = s.certainBehind(c, accounts, told); err != nil {
			return err
		}
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		whole := body
		whole.Statements = slices.Clone(body.Statements)
		for _, p := range pieces {
			done, err := keepPiece(tx, p)
			if err != nil {
				return reply{}, fileRefusedBy(err)
			}
			whole.Statements = append(whole.Statements, contractImported(done))
		}
		r := reply{status: http.StatusOK, body: whole}
		for _, st := range whole.Statements {
			if st.Id != "" {
				r.status, r.location = http.StatusCreated, "/v1/statements/"+st.Id
			}
		}
		return r, nil
	})
}

// accountsOf are those that pieces are of, each once.
func accountsOf(pieces []piece) (list []uuid.UUID) {
	for _, p := range pieces {
		if !slices.Contains(list, p.account) {
			list = append(list, p.account)
		}
	}
	return list
}

// piece is a statement, or a part of one, of an account.
type piece struct {
	account   uuid.UUID
	statement statement.Statement
}

func linesOf(pieces []piece) (n int) {
	for i := range pieces {
		n += len(pieces[i].statement.Lines)
	}
	return n
}

func keepPiece(tx store.WriteTx, p piece) (store.Imported, error) {
	rules, err := tx.RulesInForce()
	if err != nil {
		return store.Imported{}, err
	}
	return tx.ImportStatement(p.account, &p.statement, rules)
}

// fileOf is what was sent, unpacked.
func fileOf(content string) ([]byte, error) {
	file, err := base64.StdEncoding.DecodeString(content)
	if err != nil {
		return nil, brokenField("/content", "wrong_form", "It is not base64.", "Send the bytes of the file in base64 (RFC 4648).")
	}
	if !bytes.HasPrefix(file, []byte{0x1f, 0x8b}) {
		return file, nil
	}
	packed, err := gzip.NewReader(bytes.NewReader(file))
	if err == nil {
		file, err = io.ReadAll(io.LimitReader(packed, maxFileBytes+1))
	}
	if err != nil {
		return nil, fileRefused(document.Faults{{Code: "not_whole", Reason: "It looks packed, and cannot be unpacked.", Remedy: "Send the file as the bank gave it."}})
	}
	if len(file) > maxFileBytes {
		return nil, fileRefused(document.Faults{{Code: "too_large", Reason: fmt.Sprintf("Unpacked it is larger than %d bytes.", maxFileBytes), Remedy: "Ask the bank for fewer days at once."}})
	}
	return file, nil
}

// readWith is what a CSV file is read with: the account that is named and its
// map, or the one that is named.
func (s *Server) readWith(c *gin.Context, account, columns uuid.UUID) (with statement.Asked, err error) {
	err = s.readTx(c, func(tx store.ReadTx) error {
		if account != uuid.Nil {
			b, err := tx.BankAccount(account)
			if errors.Is(err, store.ErrNotFound) {
				return unknownReference("/account", "account")
			}
			if err != nil {
				return err
			}
			with.Account, with.Currency = b.Number, b.Currency
			if columns == uuid.Nil {
				columns = b.Columns
			}
		}
		if columns == uuid.Nil {
			return nil
		}
		m, err := tx.ColumnMap(columns)
		if errors.Is(err, store.ErrNotFound) {
			return unknownReference("/columns", "map of columns")
		}
		with.Columns = &m.Columns
		return err
	})
	if err == nil && with.Columns != nil && account == uuid.Nil {
		with.Columns = nil // which account it is would be a guess
	}
	return with, err
}

// piecesOf finds the account of each statement, holds it against what is known,
// and parts it where it is long. A statement that follows only as a whole stays
// whole.
func (s *Server) piecesOf(c *gin.Context, list []statement.Statement, named uuid.UUID) (pieces []piece, err error) {
	err = s.readTx(c, func(tx store.ReadTx) error {
		var faults document.Faults
		now := map[uuid.UUID]*store.BankAccount{}
		for i := range list {
			st := &list[i]
			b, err := tx.BankAccountOf(st.Account, st.Currency)
			if errors.Is(err, store.ErrNotFound) || err == nil && named != uuid.Nil && b.ID != named {
				faults = append(faults, document.Fault{Code: "other_account", Reason: fmt.Sprintf("It is of the account %s in %s.", clip(st.Account), st.Currency),
					Remedy: "Add that account first, or name the one it is of."})
				continue
			}
			if err != nil {
				return err
			}
			if now[b.ID] == nil {
				now[b.ID] = &b
			}
			in := now[b.ID]
			after, more, err := tx.Following(in, st)
			if err != nil {
				return err
			}
			faults = append(faults, more...)
			parts := st.Pieces(pieceLines)
			for k, before := 0, *in; k < len(parts) && len(parts) > 1; k++ {
				var none document.Faults
				if before.Account, none, err = tx.Following(&before, &parts[k]); err != nil {
					return err
				}
				if len(none) > 0 {
					parts = []statement.Statement{*st}
				}
			}
			in.Account = after
			for _, p := range parts {
				pieces = append(pieces, piece{b.ID, p})
			}
		}
		if len(faults) > 0 {
			return fileRefused(faults)
		}
		return nil
	})
	return pieces, err
}

// fileRefused tells what is wrong with a file, and in which of its lines.
func fileRefused(faults document.Faults) error {
	p := &problem{code: openapi.ProblemCodeDocumentRefused, detail: "The file has faults; nothing of it was kept.", remedy: "Do what errors say of each, and send it again."}
	for _, f := range faults {
		if f.Line > 0 {
			f.Reason = "Line " + strconv.Itoa(f.Line) + ": " + f.Reason
		}
		p.errors = append(p.errors, openapi.FieldError{Field: "/content", Code: f.Code, Reason: f.Reason, Remedy: f.Remedy})
	}
	return p
}

func fileRefusedBy(err error) error {
	if faults, ok := errors.AsType[document.Faults](err); ok {
		return fileRefused(faults)
	}
	return err
}

// statementRefused tells what of accounts, maps and rules cannot be so.
func statementRefused(faults document.Faults) error {
	p := &problem{code: openapi.ProblemCodeTermsRefused, detail: "It cannot be so.", remedy: "Mend the fields named in errors."}
	for _, f := range faults {
		p.errors = append(p.errors, openapi.FieldError{Field: "/" + f.At, Code: f.Code, Reason: f.Reason, Remedy: f.Remedy})
	}
	return p
}

// listStatements gives a page of statements, the latest that came in first.
func (s *Server) listStatements(c *gin.Context) error {
	account := askedID(c.Query("account"))
	list, next, err := newestFirst(s, c, "statements of "+contractID(account), func(tx store.ReadTx, after *store.Place, limit int) ([]store.StatementEntry, *store.Place, error) {
		return tx.Statements(account, after, limit)
	})
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, openapi.Statements{Statements: mapped(list, contractStatement), Next: next})
}

func (s *Server) getStatement(c *gin.Context) error {
	e, err := theOne(s, c, "statement", store.ReadTx.Statement)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, contractStatement(e))
}

func contractStatement(e store.StatementEntry) openapi.Statement {
	return openapi.Statement{
		Id: e.ID.String(), CreatedAt: e.CreatedAt, CreatedBy: e.CreatedBy.String(), Account: e.Account.String(), Source: openapi.StatementSource(e.Source), BankId: e.BankID,
		From: e.From, Until: e.Until, Opening: contractKnown(e.Opening), Closing: contractKnown(e.Closing), Lines: e.Lines, NewLines: e.New, NotBooked: e.NotBooked,
	}
}

func contractImported(i store.Imported) openapi.ImportedStatement {
	e := i.Statement
	return openapi.ImportedStatement{
		Id: contractID(e.ID), Account: e.Account.String(), Source: openapi.StatementSource(e.Source), From: e.From, Until: e.Until,
		Lines: e.Lines, NewLines: e.New, SetAside: i.Aside, NotBooked: e.NotBooked, Closing: contractKnown(i.Account.Closing),
	}
}

// listStatementLines gives a page of lines, the oldest first.
func (s *Server) listStatementLines(c *gin.Context) error {
	limit, err := pageSize(c)
	if err != nil {
		return err
	}
	f := store.LineFilter{State: store.LineState(c.Query("state")), Account: askedID(c.Query("account")), From: c.Query("from"), Until: c.Query("until"), Limit: limit}
	question := fmt.Sprintf("lines %s %s %s %s", f.State, contractID(f.Account), f.From, f.Until)
	if cursor := c.Query("cursor"); cursor != "" {
		position, ok := s.readCursor(principal(c), question, cursor)
		if !ok || len(position) < len("2006-01-02 ") {
			return strayCursor()
		}
		f.AfterDay, f.AfterID = position[:10], askedID(position[11:])
	}
	var list []store.StatementLine
	more := false
	err = s.readTx(c, func(tx store.ReadTx) (err error) {
		list, more, err = tx.StatementLines(f)
		return err
	})
	if err != nil {
		return err
	}
	page := openapi.StatementLines{Lines: mapped(list, contractStatementLine)}
	if more {
		last := list[len(list)-1]
		page.Next = s.writeCursor(principal(c), question, last.Day+" "+last.ID.String())
	}
	return answer(c, http.StatusOK, page)
}

func (s *Server) getStatementLine(c *gin.Context) error {
	l, err := theOne(s, c, "line", store.ReadTx.StatementLine)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, contractStatementLine(l))
}

func contractStatementLine(l store.StatementLine) openapi.StatementLine {
	out := openapi.StatementLine{
		Id: l.ID.String(), Account: l.Account.String(), Number: l.Number, Statement: l.Statement.String(), State: openapi.LineState(l.State), Rule: contractID(l.Rule),
		KeptOpen: l.KeptOpen, Day: l.Day, ValueDay: l.ValueDay, Amount: contractAmount(l.Amount), Reversal: l.Reversal, Words: l.Words, Reference: l.Reference,
		EndToEnd: l.EndToEnd, Party: l.Party, PartyAccount: l.PartyAccount, BankId: l.BankID,
	}
	if l.Foreign != nil {
		out.Foreign = openapi.ForeignAmount{Amount: contractAmount(l.Foreign.Amount), Rate: l.Foreign.Rate}
	}
	return out
}

// setLineAside sets an open line aside by hand.
func (s *Server) setLineAside(c *gin.Context) error {
	return s.turnLine(c, store.LineAside, store.WriteTx.SetLineAside)
}

// takeLineBack opens a line that was set aside.
func (s *Server) takeLineBack(c *gin.Context) error {
	return s.turnLine(c, store.LineOpen, store.WriteTx.TakeLineBack)
}

func (s *Server) turnLine(c *gin.Context, to store.LineState, turn func(store.WriteTx, uuid.UUID) (store.StatementLine, error)) error {
	id, err := pathID(c, "line")
	if err != nil {
		return err
	}
	err = s.keep(c, func(tx store.WriteTx) (reply, error) {
		_, err := turn(tx, id)
		return reply{status: http.StatusOK, body: openapi.LineTurned{Line: id.String(), State: openapi.LineState(to)}}, err
	})
	return notFoundIs(err, "line")
}

// listSetAsideRules gives a page of rules, the latest first.
func (s *Server) listSetAsideRules(c *gin.Context) error {
	list, next, err := newestFirst(s, c, "set-aside rules", store.ReadTx.SetAsideRules)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, openapi.SetAsideRules{Rules: mapped(list, contractSetAsideRule), Next: next})
}

func (s *Server) getSetAsideRule(c *gin.Context) error {
	r, err := theOne(s, c, "rule", store.ReadTx.SetAsideRule)
	if err != nil {
		return err
	}
	return answerVersion(c, http.StatusOK, r.Version, contractSetAsideRule(r))
}

// addSetAsideRule keeps a rule and sets aside what it takes.
func (s *Server) addSetAsideRule(c *gin.Context) error {
	asked, err := decode[openapi.NewSetAsideRule](c)
	if err != nil {
		return err
	}
	rule := statement.Rule{Words: asked.Words, PartyAccount: asked.PartyAccount, Side: statement.Side(asked.Side)}
	for _, a := range []struct {
		at   string
		sent openapi.Money
		into **money.Amount
	}{{"least", asked.Least, &rule.Least}, {"most", asked.Most, &rule.Most}} {
		if a.sent == (openapi.Money{}) {
			continue
		}
		amount, err := money.Parse(a.sent.Amount, money.Currency(a.sent.Currency))
		if err != nil {
			return statementRefused(document.Faults{{Code: "not_an_amount", At: a.at, Reason: "It is no amount of its currency.", Remedy: "Write it with the currency's decimals."}})
		}
		*a.into = &amount
	}
	if faults := rule.Check(); len(faults) > 0 {
		return statementRefused(faults)
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		r, n, err := tx.AddSetAsideRule(asked.Name, rule)
		return reply{status: http.StatusCreated, location: "/v1/set-aside-rules/" + r.ID.String(), version: r.Version,
			body: openapi.SetAsideRuleTurned{Rule: contractSetAsideRule(r), Lines: whole(n)}}, err
	})
}

// endSetAsideRule ends a rule.
func (s *Server) endSetAsideRule(c *gin.Context) error {
	asked, err := decode[openapi.EndSetAsideRule](c)
	if err != nil {
		return err
	}
	id, version, err := pathVersion(c, "rule")
	if err != nil {
		return err
	}
	err = s.keep(c, func(tx store.WriteTx) (reply, error) {
		r, n, err := tx.EndSetAsideRule(id, version, asked.TakeBack)
		return reply{status: http.StatusOK, version: r.Version, body: openapi.SetAsideRuleTurned{Rule: contractSetAsideRule(r), Lines: whole(n)}}, err
	})
	return notFoundIs(err, "rule")
}

func contractSetAsideRule(r store.SetAsideRule) openapi.SetAsideRule {
	return openapi.SetAsideRule{
		Id: r.ID.String(), Version: r.Version, CreatedAt: r.CreatedAt, CreatedBy: r.CreatedBy.String(), ChangedAt: r.ChangedAt, Ended: r.Ended, Name: r.Name,
		Words: r.Words, PartyAccount: r.PartyAccount, Side: openapi.MoneySide(r.Side), Least: contractKnown(r.Least), Most: contractKnown(r.Most),
	}
}
