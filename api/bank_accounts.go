package api

import (
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/bom/calendar"
	"wainscot/bom/document"
	"wainscot/openapi"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
	"wainscot/pricing/statement"
)

// statementRoutes are those of what banks say.
func statementRoutes() []route {
	keepers := []auth.Role{auth.Owner, auth.Books}
	return []route{
		{http.MethodGet, "/v1/bank-accounts", keepers, (*Server).listBankAccounts},
		{http.MethodPost, "/v1/bank-accounts", keepers, (*Server).addBankAccount},
		{http.MethodGet, "/v1/bank-accounts/:id", keepers, (*Server).getBankAccount},
		{http.MethodPut, "/v1/bank-accounts/:id", keepers, (*Server).changeBankAccount},
		{http.MethodGet, "/v1/bank-accounts/:id/proof", keepers, (*Server).proveBankAccount},
		{http.MethodGet, "/v1/column-maps", keepers, (*Server).listColumnMaps},
		{http.MethodPost, "/v1/column-maps", keepers, (*Server).addColumnMap},
		{http.MethodGet, "/v1/column-maps/:id", keepers, (*Server).getColumnMap},
		{http.MethodPut, "/v1/column-maps/:id", keepers, (*Server).changeColumnMap},
		{http.MethodGet, "/v1/statements", keepers, (*Server).listStatements},
		{http.MethodPost, "/v1/statements", keepers, (*Server).importStatement},
		{http.MethodGet, "/v1/statements/:id", keepers, (*Server).getStatement},
		{http.MethodGet, "/v1/statement-lines", keepers, (*Server).listStatementLines},
		{http.MethodGet, "/v1/statement-lines/:id", keepers, (*Server).getStatementLine},
		{http.MethodPost, "/v1/statement-lines/:id/set-aside", keepers, (*Server).setLineAside},
		{http.MethodPost, "/v1/statement-lines/:id/take-back", keepers, (*Server).takeLineBack},
		{http.MethodPost, "/v1/statement-lines/:id/reconcile", keepers, (*Server).reconcileLine},
		{http.MethodGet, "/v1/bank-accounts/:id/reconciliation", keepers, (*Server).listToReconcile},
		{http.MethodPost, "/v1/bank-accounts/:id/reconciliation/certain", keepers, (*Server).applyCertain},
		{http.MethodGet, "/v1/reconciliations", keepers, (*Server).listReconciliations},
		{http.MethodGet, "/v1/reconciliations/:id", keepers, (*Server).getReconciliation},
		{http.MethodPost, "/v1/reconciliations/:id/undo", keepers, (*Server).undoReconciliation},
		{http.MethodGet, "/v1/set-aside-rules", keepers, (*Server).listSetAsideRules},
		{http.MethodPost, "/v1/set-aside-rules", keepers, (*Server).addSetAsideRule},
		{http.MethodGet, "/v1/set-aside-rules/:id", keepers, (*Server).getSetAsideRule},
		{http.MethodPost, "/v1/set-aside-rules/:id/end", keepers, (*Server).endSetAsideRule},
	}
}

// listBankAccounts gives all of them.
func (s *Server) listBankAccounts(c *gin.Context) error {
	var list []store.BankAccount
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		list, err = tx.BankAccounts()
		return err
	})
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, openapi.BankAccounts{Accounts: mapped(list, contractBankAccount)})
}

func (s *Server) getBankAccount(c *gin.Context) error {
	b, err := theOne(s, c, "account", store.ReadTx.BankAccount)
	if err != nil {
		return err
	}
	return answerVersion(c, http.StatusOK, b.Version, contractBankAccount(b))
}

func (s *Server) addBankAccount(c *gin.Context) error {
	asked, err := decode[openapi.BankAccountContent](c)
	if err != nil {
		return err
	}
	b := store.BankAccount{
		Name: asked.Name, Number: asked.Number, Holds: ledger.Account(asked.Holds), Columns: askedID(asked.Columns),
		Account: statement.Account{Currency: money.Currency(asked.Currency)},
	}
	if _, err := money.FromMinor(0, b.Currency); err != nil {
		return statementRefused(document.Faults{{Code: "currency", At: "currency", Reason: "No such currency is known.", Remedy: "Write its three letters (ISO 4217)."}})
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		if err := namedColumns(tx.ReadTx, b.Columns); err != nil {
			return reply{}, err
		}
		made, err := tx.AddBankAccount(b)
		return reply{status: http.StatusCreated, location: "/v1/bank-accounts/" + made.ID.String(), version: made.Version, body: contractBankAccount(made)}, err
	})
}

// namedColumns: a map that is named has to be there.
func namedColumns(tx store.ReadTx, id uuid.UUID) error {
	if id == uuid.Nil {
		return nil
	}
	if _, err := tx.ColumnMap(id); err != nil {
		if notFoundIs(err, "map") != err { //nolint:errorlint // it gives another or the same
			return unknownReference("/columns", "map of columns")
		}
		return err
	}
	return nil
}

func (s *Server) changeBankAccount(c *gin.Context) error {
	asked, err := decode[openapi.BankAccountChange](c)
	if err != nil {
		return err
	}
	id, version, err := pathVersion(c, "account")
	if err != nil {
		return err
	}
	err = s.keep(c, func(tx store.WriteTx) (reply, error) {
		if err := namedColumns(tx.ReadTx, askedID(asked.Columns)); err != nil {
			return reply{}, err
		}
		now, err := tx.ChangeBankAccount(id, version, asked.Name, ledger.Account(asked.Holds), askedID(asked.Columns))
		return reply{status: http.StatusOK, version: now.Version, body: contractBankAccount(now)}, err
	})
	return notFoundIs(err, "account")
}

// ages are the first days of each age of open lines, in days since they were
// booked: what is left is chased by them.
var ages = []int32{0, 8, 31, 91}

// proveBankAccount tells how the closing balance of a day comes about.
func (s *Server) proveBankAccount(c *gin.Context) error {
	id, err := pathID(c, "account")
	if err != nil {
		return err
	}
	var body openapi.BankAccountProof
	err = s.readTx(c, func(tx store.ReadTx) error {
		on := c.Query("on")
		if on == "" {
			if on, err = dayOf(tx); err != nil {
				return err
			}
		}
		b, err := tx.BankAccount(id)
		if err != nil {
			return err
		}
		body, err = accountProof(tx, b, on)
		return err
	})
	if err != nil {
		return notFoundIs(err, "account")
	}
	return answer(c, http.StatusOK, body)
}

// accountProof is an account at the end of a day: what it is now, less what came
// later.
func accountProof(tx store.ReadTx, b store.BankAccount, on string) (openapi.BankAccountProof, error) {
	later, err := tx.LinesSince(b.ID, on)
	if err != nil {
		return openapi.BankAccountProof{}, err
	}
	sums := map[store.LineState]store.LineSum{store.LineOpen: b.Open, store.LineAside: b.Aside, store.LineReconciled: b.Reconciled}
	after := int64(0)
	for _, t := range later {
		sum := sums[t.State]
		sums[t.State] = store.LineSum{Lines: sum.Lines - t.Lines, Minor: sum.Minor - t.Minor}
		after += t.Minor
	}
	p := openapi.BankAccountProof{
		Account: b.ID.String(), On: on, Opening: contractKnown(b.Opening), SaidOn: b.Said,
		Open: contractLineSum(sums[store.LineOpen], b.Currency), SetAside: contractLineSum(sums[store.LineAside], b.Currency),
		Reconciled: contractLineSum(sums[store.LineReconciled], b.Currency),
	}
	if b.Closing != nil {
		closing, err := b.Closing.WithMinor(b.Closing.Minor() - after)
		if err != nil {
			return p, err
		}
		p.Closing = contractAmount(closing)
	}
	open, err := tx.OpenTotals(b.ID)
	if err != nil {
		return p, err
	}
	p.OpenByAge, err = byAge(open, on, b.Currency)
	return p, err
}

// byAge parts open lines through a day by their age on it.
func byAge(open []store.DayTotal, on string, currency money.Currency) ([]openapi.LinesByAge, error) {
	if !calendar.Valid(on) {
		return nil, brokenField("query/on", "wrong_form", "It is not a day.", "Write it as year, month and day: 2027-01-11.")
	}
	sums := make([]store.LineSum, len(ages))
	for _, t := range open {
		old, err := calendar.Days(t.Day, on)
		if err != nil {
			return nil, err
		}
		for i := len(ages) - 1; i >= 0; i-- {
			if whole(old) >= ages[i] && t.Day <= on {
				sums[i].Lines, sums[i].Minor = sums[i].Lines+t.Lines, sums[i].Minor+t.Minor
				break
			}
		}
	}
	list := make([]openapi.LinesByAge, len(ages))
	for i, s := range sums {
		shown := contractLineSum(s, currency)
		list[i] = openapi.LinesByAge{FromDays: ages[i], Lines: shown.Lines, Amount: shown.Amount}
		if i+1 < len(ages) {
			list[i].UntilDays = ages[i+1] - 1
		}
	}
	return list, nil
}

func contractBankAccount(b store.BankAccount) openapi.BankAccount {
	return openapi.BankAccount{
		Id: b.ID.String(), Version: b.Version, CreatedAt: b.CreatedAt, ChangedAt: b.ChangedAt, Name: b.Name, Number: b.Number, Currency: string(b.Currency),
		Holds: openapi.BankAccountHolds(b.Holds), Columns: contractID(b.Columns), From: b.From, Until: b.Until, Opening: contractKnown(b.Opening), Closing: contractKnown(b.Closing),
		SaidOn: b.Said, Lines: b.Lines, Open: contractLineSum(b.Open, b.Currency), SetAside: contractLineSum(b.Aside, b.Currency), Reconciled: contractLineSum(b.Reconciled, b.Currency),
	}
}

// contractKnown is an amount that may not be known.
func contractKnown(a *money.Amount) openapi.Money {
	if a == nil {
		return openapi.Money{}
	}
	return contractAmount(*a)
}

func contractLineSum(s store.LineSum, currency money.Currency) openapi.LineSum {
	amount, err := money.FromMinor(s.Minor, currency)
	if err != nil { // the store lets none in
		amount = money.Zero(currency)
	}
	return openapi.LineSum{Lines: s.Lines, Amount: contractAmount(amount)}
}

// listColumnMaps gives all of them.
func (s *Server) listColumnMaps(c *gin.Context) error {
	var list []store.ColumnMap
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		list, err = tx.ColumnMaps()
		return err
	})
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, openapi.ColumnMaps{ColumnMaps: mapped(list, contractColumnMap)})
}

func (s *Server) getColumnMap(c *gin.Context) error {
	m, err := theOne(s, c, "map of columns", store.ReadTx.ColumnMap)
	if err != nil {
		return err
	}
	return answerVersion(c, http.StatusOK, m.Version, contractColumnMap(m))
}

func (s *Server) addColumnMap(c *gin.Context) error {
	name, columns, err := askedColumns(c)
	if err != nil {
		return err
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		m, err := tx.AddColumnMap(name, columns)
		return reply{status: http.StatusCreated, location: "/v1/column-maps/" + m.ID.String(), version: m.Version, body: contractColumnMap(m)}, err
	})
}

func (s *Server) changeColumnMap(c *gin.Context) error {
	name, columns, err := askedColumns(c)
	if err != nil {
		return err
	}
	id, version, err := pathVersion(c, "map of columns")
	if err != nil {
		return err
	}
	err = s.keep(c, func(tx store.WriteTx) (reply, error) {
		m, err := tx.ChangeColumnMap(id, version, name, columns)
		return reply{status: http.StatusOK, version: m.Version, body: contractColumnMap(m)}, err
	})
	return notFoundIs(err, "map of columns")
}

// tab is how the contract writes a tab.
const tab = "tab"

// askedColumns reads a map, and what is wrong with it by itself.
func askedColumns(c *gin.Context) (string, statement.Columns, error) {
	asked, err := decode[openapi.ColumnMapContent](c)
	if err != nil {
		return "", statement.Columns{}, err
	}
	k := asked.Columns
	columns := statement.Columns{
		Between: strings.Replace(k.Between, tab, "\t", 1), Skip: int(k.Skip), Leave: int(k.Leave), Day: k.Day, DayOrder: statement.DayOrder(k.DayOrder), ValueDay: k.ValueDay,
		Amount: k.Amount, In: k.In, Out: k.Out, Decimal: k.Decimal, Words: k.Words, Party: k.Party, PartyAccount: k.PartyAccount, Reference: k.Reference,
		BankID: k.BankId, Balance: k.Balance, Account: k.Account, Currency: k.Currency,
	}
	if faults := columns.Check(); len(faults) > 0 {
		for i := range faults {
			faults[i].At = document.Join("columns", faults[i].At)
		}
		return "", columns, statementRefused(faults)
	}
	return asked.Name, columns, nil
}

func contractColumnMap(m store.ColumnMap) openapi.ColumnMap {
	k := m.Columns
	words := k.Words
	if words == nil {
		words = []string{}
	}
	return openapi.ColumnMap{
		Id: m.ID.String(), Version: m.Version, CreatedAt: m.CreatedAt, ChangedAt: m.ChangedAt, Name: m.Name,
		Columns: openapi.StatementColumns{
			Between: strings.Replace(k.Between, "\t", tab, 1), Skip: whole(k.Skip), Leave: whole(k.Leave), Day: k.Day, DayOrder: string(k.DayOrder), ValueDay: k.ValueDay,
			Amount: k.Amount, In: k.In, Out: k.Out, Decimal: k.Decimal, Words: words, Party: k.Party, PartyAccount: k.PartyAccount, Reference: k.Reference,
			BankId: k.BankID, Balance: k.Balance, Account: k.Account, Currency: k.Currency,
		},
	}
}
