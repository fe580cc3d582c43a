package store

import (
	"errors"
	"fmt"
	"time"

	"github.com/google/uuid"

	"wainscot/pricing/money"
	"wainscot/pricing/statement"
)

// SetAsideRule is a rule by which lines are set aside.
type SetAsideRule struct {
	ID        uuid.UUID
	Version   int64
	CreatedAt time.Time
	CreatedBy uuid.UUID
	ChangedAt time.Time
	Ended     bool
	Name      string
	statement.Rule
}

// Rules are those in force, the oldest first.
type Rules struct {
	ids   []uuid.UUID
	rules statement.Rules
}

// taking is the first rule that takes a line; the nil id for none.
func (r Rules) taking(l *statement.Line) uuid.UUID {
	if i := r.rules.Taking(l); i >= 0 {
		return r.ids[i]
	}
	return uuid.Nil
}

// RulesInForce are those that have not ended.
func (t ReadTx) RulesInForce() (Rules, error) {
	found, err := of[setAsideRuleRow](t).where("ended = 0").order("created_us, id").all()
	if err != nil {
		return Rules{}, fmt.Errorf("rules: %w", err)
	}
	var in Rules
	list := make([]statement.Rule, len(found))
	for i := range found {
		r, err := found[i].rule()
		if err != nil {
			return Rules{}, err
		}
		in.ids, list[i] = append(in.ids, r.ID), r.Rule
	}
	in.rules = statement.NewRules(list)
	return in, nil
}

// AddSetAsideRule keeps a new rule, and sets aside the open lines that it takes;
// set says how many.
func (t WriteTx) AddSetAsideRule(name string, rule statement.Rule) (r SetAsideRule, set int, err error) {
	r = SetAsideRule{ID: t.NewID(), Version: 1, CreatedAt: t.Now(), CreatedBy: t.Principal().Person, ChangedAt: t.Now(), Name: name, Rule: rule}
	if err := insert(t, added, setAsideRuleRowOf(&r)); err != nil {
		return r, 0, fmt.Errorf("rule: %w", err)
	}
	accounts, err := t.BankAccounts()
	if err != nil {
		return r, 0, err
	}
	compiled := statement.NewRules([]statement.Rule{rule})
	for i := range accounts {
		if accounts[i].Open.Lines == 0 {
			continue
		}
		open, err := t.OpenLines(accounts[i].ID)
		if err != nil {
			return r, 0, err
		}
		var taken []StatementLine
		for k := range open {
			if !open[k].KeptOpen && compiled.Taking(&open[k].Line) >= 0 {
				taken = append(taken, open[k])
			}
		}
		if err := t.turnLines(accounts[i].ID, taken, LineOpen, LineAside, map[string]any{"rule": orNull(r.ID)}); err != nil {
			return r, 0, err
		}
		set += len(taken)
	}
	return r, set, nil
}

// EndSetAsideRule ends a rule; with takeBack the lines that it has set aside are
// open again, and back says how many. version is the one the end was decided on,
// else it is ErrStale; a rule that has ended is ErrState.
func (t WriteTx) EndSetAsideRule(id uuid.UUID, version int64, takeBack bool) (r SetAsideRule, back int, err error) {
	if r, err = t.SetAsideRule(id); err != nil {
		return r, 0, err
	}
	if r.Ended {
		return r, 0, fmt.Errorf("rule %s has ended: %w", id, ErrState)
	}
	r.Version, r.ChangedAt, r.Ended = version+1, t.Now(), true
	row := setAsideRuleRowOf(&r)
	err = change(t, changed, of[setAsideRuleRow](t.ReadTx).where("id = ? AND version = ?", id, version), map[string]any{
		"version": row.Version, "changed_us": row.ChangedUS, "ended": row.Ended,
	}, fmt.Errorf("rule %s at version %d: %w", id, version, ErrStale), row)
	if err != nil || !takeBack {
		return r, 0, err
	}
	found, err := of[lineRow](t.ReadTx).where("rule = ?", id).where("state = ?", string(LineAside)).order("account, number").all()
	if err != nil {
		return r, 0, err
	}
	lines, err := t.linesOf(found)
	for begin := 0; err == nil && begin < len(lines); {
		end := begin
		for end < len(lines) && lines[end].Account == lines[begin].Account {
			end++
		}
		err = t.turnLines(lines[begin].Account, lines[begin:end], LineAside, LineOpen, map[string]any{"rule": uuid.NullUUID{}})
		begin = end
	}
	return r, len(lines), err
}

// SetAsideRule gives one.
func (t ReadTx) SetAsideRule(id uuid.UUID) (SetAsideRule, error) {
	row, err := of[setAsideRuleRow](t).where("id = ?", id).one()
	if err != nil {
		return SetAsideRule{}, fmt.Errorf("rule %s: %w", id, err)
	}
	return row.rule()
}

// SetAsideRules lists them, the newest first. next is where to go on, nil at the
// end.
func (t ReadTx) SetAsideRules(after *Place, limit int) (list []SetAsideRule, next *Place, err error) {
	found, next, err := page(of[setAsideRuleRow](t), after, limit, func(r setAsideRuleRow) Place { return Place{moment(r.CreatedUS), r.ID} })
	if err != nil {
		return nil, nil, fmt.Errorf("rules: %w", err)
	}
	list, err = each(found, (*setAsideRuleRow).rule)
	return list, next, err
}

type setAsideRuleRow struct {
	WorkshopID   uuid.UUID `gorm:"primaryKey"`
	ID           uuid.UUID `gorm:"primaryKey"`
	Version      int64
	CreatedUS    int64
	CreatedBy    uuid.UUID
	ChangedUS    int64
	Ended        int64
	Name         string
	Side         string
	Currency     string
	LeastMinor   *int64
	MostMinor    *int64
	Words        string
	PartyAccount string
}

// TableName for gorm.
func (*setAsideRuleRow) TableName() string { return "set_aside_rules" }

func (r *setAsideRuleRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

// journalled leaves out name, words and account: they may name somebody.
func (r *setAsideRuleRow) journalled() (noun, id string, content []byte) {
	sum := digest("wainscot-set-aside-rule/1", r.Version, r.CreatedUS, r.CreatedBy[:], r.ChangedUS, r.Ended, r.Side, r.Currency, said(r.LeastMinor), said(r.MostMinor))
	return "set-aside rule", r.ID.String(), sum[:]
}

func (*setAsideRuleRow) sealed() error { return nil }

func (r *setAsideRuleRow) key() any { return r.ID }

func setAsideRuleRowOf(r *SetAsideRule) *setAsideRuleRow {
	row := &setAsideRuleRow{
		ID: r.ID, Version: r.Version, CreatedUS: r.CreatedAt.UnixMicro(), CreatedBy: r.CreatedBy, ChangedUS: r.ChangedAt.UnixMicro(), Ended: bit(r.Ended),
		Name: r.Name, Side: string(r.Side), LeastMinor: minorOf(r.Least), MostMinor: minorOf(r.Most), Words: r.Words, PartyAccount: r.PartyAccount,
	}
	for _, a := range []*money.Amount{r.Least, r.Most} {
		if a != nil {
			row.Currency = string(a.Currency())
		}
	}
	return row
}

func (r *setAsideRuleRow) rule() (SetAsideRule, error) {
	s := SetAsideRule{
		ID: r.ID, Version: r.Version, CreatedAt: moment(r.CreatedUS), CreatedBy: r.CreatedBy, ChangedAt: moment(r.ChangedUS), Ended: r.Ended == 1, Name: r.Name,
		Rule: statement.Rule{Words: r.Words, PartyAccount: r.PartyAccount, Side: statement.Side(r.Side)},
	}
	least, err := amountIn(r.LeastMinor, money.Currency(r.Currency))
	most, other := amountIn(r.MostMinor, money.Currency(r.Currency))
	s.Least, s.Most = least, most
	if err = errors.Join(err, other); err != nil {
		return s, fmt.Errorf("rule %s: %w", r.ID, err)
	}
	return s, nil
}
