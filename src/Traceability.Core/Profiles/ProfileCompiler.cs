using Traceability.Core.Events;
using Traceability.Core.Quantities;

namespace Traceability.Core.Profiles;

/// <summary>A complete profile, or why there is none.</summary>
/// <param name="Profile">Null when there are errors.</param>
public sealed record Compiled(ProfilePublished? Profile, IReadOnlyList<ProfileError> Errors);

/// <summary>
/// Makes the complete profile of a document and those it inherits. Of several statements of one limit the document of the
/// strongest rank wins, then the one for the product alone, then the nearest file. A shop drawing can only be stricter; one
/// that is not is kept as a finding. The plant's plan can only be tighter; one that is not is refused.
/// </summary>
public sealed class ProfileCompiler
{
    /// <summary>
    /// The usual order of documents, strongest first: contract special provisions, plans, supplemental specifications, standard
    /// drawings, standard specifications, product standards, general standards. Common practice, no source; an agency that
    /// orders them otherwise states its own. The plant's plan has no place in it: it may only tighten.
    /// </summary>
    public static IReadOnlyList<LimitRank> UsualPrecedence { get; } =
    [
        LimitRank.SpecialProvision, LimitRank.Plan, LimitRank.SupplementalSpecification, LimitRank.StandardDrawing,
        LimitRank.StandardSpecification, LimitRank.ProductStandard, LimitRank.GeneralStandard,
    ];

    private readonly List<ProfileError> _errors = [];
    private readonly IReadOnlyList<ProfileDocument> _chain;
    private readonly Dictionary<string, string> _editions;
    private readonly IReadOnlyList<LimitRank> _precedence;
    private readonly RoundingRule _rounding;
    private readonly List<(Statement Statement, int Depth)> _active;

    private ProfileCompiler(IReadOnlyList<ProfileDocument> chain)
    {
        _chain = chain;
        _editions = chain.Reverse().SelectMany(d => d.Editions).GroupBy(e => e.Value.Name, StringComparer.Ordinal).ToDictionary(g => g.Key, g => g.Last().Value.Value, StringComparer.Ordinal);
        _precedence = chain.Select(d => d.Precedence?.Value).FirstOrDefault(p => p is not null) ?? UsualPrecedence;
        _rounding = chain.Select(d => d.Rounding?.Value).FirstOrDefault(r => r is not null) ?? RoundingRule.Absolute;
        // From the root to the nearest file, each in its own order: the order in which limits are printed.
        _active = [.. chain.Select((d, depth) => (d, depth)).Reverse().SelectMany(x => x.d.Limits.Where(s => s.Holds(_editions)).Select(s => (s, x.depth)))];
    }

    /// <param name="document">The file to make a profile of.</param>
    /// <param name="find">Finds the file that another inherits by its name, "name@version"; null when there is none.</param>
    public static Compiled Compile(ProfileDocument document, Func<string, ProfileDocument?> find)
    {
        var chain = new List<ProfileDocument> { document };
        while (chain[^1].Inherits is { } parent)
        {
            var from = chain[^1];
            if (find(parent.Value) is not { } next)
                return Refused(from, parent.Line, $"It inherits '{parent.Value}', which is not among the profiles at hand.", "Name a profile with its version, such as \"national-standards@1\", and give its file too.");
            if (chain.Any(d => d.Name == next.Name))
                return Refused(from, parent.Line, $"It inherits itself: {string.Join(" inherits ", chain.Select(d => d.Name).Append(next.Name))}.", "Let one of these files inherit nothing.");
            chain.Add(next);
        }

        return new ProfileCompiler(chain).Compile();
    }

    private static Compiled Refused(ProfileDocument document, int line, string reason, string remedy) => new(null, [new(document.File, line, reason, remedy)]);

    private Compiled Compile()
    {
        CheckDocuments();
        var limits = new List<Limit>();
        var plan = new List<Limit>();
        var notAsked = new List<NotAsked>();
        var overruled = new List<Overruled>();
        foreach (var key in _active.Select(a => a.Statement.Key).Distinct(StringComparer.Ordinal).ToList())
        {
            var general = Settle(key, null);
            Emit(key, general);
            foreach (var product in _active.Where(a => a.Statement.Key == key).SelectMany(a => a.Statement.Products).Distinct(StringComparer.Ordinal).ToList())
            {
                var own = Settle(key, product);
                if (own.Contract != general.Contract || own.Plan != general.Plan) Emit(LimitKeys.For(key, product), own with { Overruled = [.. own.Overruled.Except(general.Overruled)] });
            }
        }

        void Emit(string key, Settled settled)
        {
            if (settled.Contract is { Value: not null } limit) limits.Add(limit.Limit with { Key = key });
            else if (settled.Contract is { } lifted) notAsked.Add(new(key, lifted.Printed, lifted.Source, lifted.Rank));
            if (settled.Plan is { } tighter) plan.Add(tighter.Limit with { Key = key });
            overruled.AddRange(settled.Overruled.Select(o => o with { Stated = o.Stated with { Key = key } }));
        }

        foreach (var lifted in _chain.Reverse().SelectMany(d => d.NotAsked).Where(l => l.When.All(w => _editions.GetValueOrDefault(w.Name) == w.Value)))
        {
            foreach (var what in lifted.Products.Count == 0 ? [lifted.Requirement] : lifted.Products.Select(p => LimitKeys.For(lifted.Requirement, p)))
                notAsked.Add(new(what, lifted.Printed, lifted.Source, lifted.Rank));
        }

        var nearest = _chain[0];
        if (limits.Count == 0) Error(nearest, nearest.Line, "It states no limit and inherits none.", "State one, or inherit a profile.");
        if (_errors.Count > 0) return new(null, _errors);
        var usual = _precedence.SequenceEqual(UsualPrecedence);
        return Checked(new ProfilePublished(
            nearest.Profile, nearest.Version, _chain.Select(d => d.Title).First(t => t is not null)!, _rounding, _chain.Select(d => d.Releases?.Value).FirstOrDefault(r => r is not null) ?? [], limits,
            nearest.Inherits?.Value, usual ? null : _precedence, _editions.Count == 0 ? null : [.. _editions.OrderBy(e => e.Key, StringComparer.Ordinal).Select(e => new EditionChoice(e.Key, e.Value))],
            plan.Count == 0 ? null : plan, notAsked.Count == 0 ? null : notAsked, overruled.Count == 0 ? null : overruled,
            HoldRules(0) is { Count: > 0 } holds ? holds : null, _chain.Select(d => d.Agency).FirstOrDefault(a => a is not null)));
    }

    // Of a hold's rules the nearest file's counts, whole: half a rule of one document and half of another is neither's.
    private List<HoldRule> HoldRules(int depth) =>
        [.. _chain.Skip(depth).SelectMany(d => d.Holds).GroupBy(h => h.Value.Hold).OrderBy(g => g.Key).Select(g => g.First().Value)];

    /// <summary>What came of one limit for one product, or for all products when none is named.</summary>
    private sealed record Settled(Statement? Contract, Statement? Plan, IReadOnlyList<Overruled> Overruled);

    private Settled Settle(string key, string? product)
    {
        var direction = LimitKeys.Find(key)!.Direction;
        var overruled = new List<Overruled>();
        var candidates = _active.Where(a => a.Statement.Key == key && (a.Statement.Products.Count == 0 || (product is not null && a.Statement.Products.Contains(product, StringComparer.Ordinal)))).ToList();
        var contract = Contract(candidates);
        overruled.AddRange(candidates.Where(c => c.Statement is { Rank: not LimitRank.PlantPlan, ShopDrawing: false, Value: not null } s && contract is not null && s != contract
                && s.Rank != contract.Rank && s.Value != contract.Value).Select(c => new Overruled(c.Statement.Limit, OverruledWhy.Precedence)));

        foreach (var drawing in candidates.Where(c => c.Statement is { ShopDrawing: true, Value: not null }).Select(c => c.Statement))
        {
            var strictness = contract?.Value is { } limit ? Tightness.Of(direction, drawing.Value!.Value, limit, _rounding) : Strictness.Tighter;
            if (strictness == Strictness.Tighter) contract = drawing;
            else if (strictness != Strictness.Same) overruled.Add(new(drawing.Limit, OverruledWhy.LooserShopDrawing, drawing.Drawing));
        }

        var plan = candidates.Where(c => c.Statement is { Rank: LimitRank.PlantPlan, Value: not null }).OrderBy(c => c.Statement.Products.Count == 0).ThenBy(c => c.Depth).Select(c => c.Statement).FirstOrDefault();
        if (plan is null || contract is null) return new(contract ?? plan, null, overruled);
        if (contract.Value is null) return new(contract, plan, overruled);
        switch (Tightness.Of(direction, plan.Value!.Value, contract.Value.Value, _rounding))
        {
            case Strictness.Tighter:
                return new(contract, plan, overruled);
            case Strictness.Same:
                return new(contract, null, overruled);
            default:
                return new(contract, null, [.. overruled, new(plan.Limit, OverruledWhy.PlanOvertaken)]);
        }
    }

    private Statement? Contract(IEnumerable<(Statement Statement, int Depth)> candidates) =>
        candidates.Where(c => c.Statement is { Rank: not LimitRank.PlantPlan, ShopDrawing: false })
            .OrderBy(c => Strength(c.Statement.Rank)).ThenBy(c => c.Statement.Products.Count == 0).ThenBy(c => c.Depth).Select(c => c.Statement).FirstOrDefault();

    private int Strength(LimitRank rank)
    {
        for (var i = 0; i < _precedence.Count; i++)
        {
            if (_precedence[i] == rank) return i;
        }

        return _precedence.Count;
    }

    private void CheckDocuments()
    {
        for (var depth = 0; depth < _chain.Count; depth++)
        {
            var document = _chain[depth];
            if (document.Precedence is { } order && !order.Value.Order().SequenceEqual(UsualPrecedence.Order()))
                Error(document, order.Line, "The order of documents must name each rank but the plant's plan once.", $"Order {string.Join(", ", UsualPrecedence)}.");
            CheckTwice(document);
            foreach (var again in document.Holds.GroupBy(h => h.Value.Hold).SelectMany(g => g.Skip(1)))
                Error(document, again.Line, $"The {again.Value.Hold} hold has a rule already.", "Remove one.");
            CheckPlan(document, depth);
        }

        var root = _chain[^1];
        if (_chain.All(d => d.Title is null)) Error(root, root.Line, "It has no 'title'.", "Add it.");
        if (_chain.All(d => d.Rounding is null)) Error(root, root.Line, "It does not say how observed values are rounded.", "Add rounding: halfEven, halfUp, truncate or absolute.");
    }

    private void CheckTwice(ProfileDocument document)
    {
        for (var i = 0; i < document.Limits.Count; i++)
        {
            var statement = document.Limits[i];
            var first = document.Limits.Take(i).FirstOrDefault(s => s.Key == statement.Key && s.Rank == statement.Rank && s.ShopDrawing == statement.ShopDrawing
                && (s.Products.Count == 0 ? statement.Products.Count == 0 : s.Products.Intersect(statement.Products).Any())
                && (s.When.SequenceEqual(statement.When) || (s.Holds(_editions) && statement.Holds(_editions))));
            if (first is not null) Error(document, statement.Line, $"{statement.Key} is stated on line {first.Line} already.", "Remove one, or say by 'products' or 'when' which holds where.");
        }
    }

    // What a plan says is held against the contract as it was when the plan was written: the files it inherits.
    private void CheckPlan(ProfileDocument document, int depth)
    {
        var before = _active.Where(a => a.Depth >= depth).ToList();
        foreach (var statement in document.Limits.Where(s => s.Rank == LimitRank.PlantPlan && s.Holds(_editions)))
        {
            var known = LimitKeys.Find(statement.Key)!;
            foreach (var product in statement.Products.Count == 0 ? [null] : statement.Products.Select(p => (string?)p))
            {
                var contract = Contract(before.Where(a => a.Statement.Key == statement.Key && (a.Statement.Products.Count == 0 || (product is not null && a.Statement.Products.Contains(product, StringComparer.Ordinal)))));
                if (statement.Value is not { } figure)
                {
                    Error(document, statement.Line, $"The plant's plan cannot lift {statement.Key}.", "Leave the statement out.");
                    break;
                }

                if (contract?.Value is not { } limit || Tightness.Of(known.Direction, figure, limit, _rounding) is not (Strictness.Looser or Strictness.Neither)) continue;
                Error(document, statement.Line, known.Direction == Direction.Fixed
                        ? $"The plant's plan changes {statement.Key} from {limit.Text} to {figure.Text} {known.Unit}: neither is tighter."
                        : $"The plant's plan loosens {statement.Key} from {limit.Text} to {figure.Text} {known.Unit}; {Words(known.Direction)}.",
                    $"State a tighter figure, or leave it out: {contract.Source} holds.");
                break;
            }
        }

        if (!document.IsPlan) return;
        var contracts = _chain.Skip(depth + 1).ToList();
        if (document.Rounding is { } rounding && contracts.Select(d => d.Rounding?.Value).FirstOrDefault(r => r is not null) is { } than && Tightness.Of(rounding.Value, than) is Strictness.Looser or Strictness.Neither)
            Error(document, rounding.Line, "The plant's plan rounds otherwise than the contract.", "Leave the rounding out, or compare as observed (absolute), which is tighter than any rounding.");
        if (document.Releases is { } releases && contracts.Select(d => d.Releases?.Value).FirstOrDefault(r => r is not null) is { } asked && asked.Except(releases.Value).Any())
            Error(document, releases.Line, $"The plant's plan leaves out the release of {string.Join(", ", asked.Except(releases.Value))}.", "Name every hold that the contract asks a release of.");
        foreach (var edition in document.Editions.Where(e => contracts.SelectMany(d => d.Editions).Any(c => c.Value.Name == e.Value.Name && c.Value.Value != e.Value.Value)))
            Error(document, edition.Line, $"The plant's plan chooses another {edition.Value.Name} than the contract.", "Leave it out; the contract chooses.");
        foreach (var rule in document.Holds)
        {
            if (HoldRules(depth + 1).Find(r => r.Hold == rule.Value.Hold) is { } contract && !IsAsTight(rule.Value, contract))
                Error(document, rule.Line, $"The plant's plan loosens the rule of the {rule.Value.Hold} hold.", "Keep its authority, causes of expiry and notice, and let a release, and one by telephone, stand no longer.");
        }

        if (document.Precedence is { } order) Error(document, order.Line, "The plant's plan cannot order the documents of the contract.", "Leave the order out.");
    }

    private static bool IsAsTight(HoldRule rule, HoldRule contract) =>
        rule.Authority == contract.Authority
        && (contract.ValidHours is not { } hours || rule.ValidHours?.Value <= hours.Value)
        && !(contract.ExpiresOn ?? []).Except(rule.ExpiresOn ?? []).Any()
        && (contract.NoticeHours is not { Value: > 0 } notice || rule.NoticeHours?.Value >= notice.Value)
        && (rule.TelephoneHours is not { } telephone || telephone.Value <= contract.TelephoneHours?.Value)
        && (contract.ReleasedBy is null || rule.ReleasedBy == contract.ReleasedBy);

    private static string Words(Direction direction) => direction switch
    {
        Direction.AtMost => "the smaller of two largest values is the tighter",
        Direction.AtLeast => "the larger of two smallest values is the tighter",
        Direction.PlusOrMinus => "the narrower of two tolerances is the tighter",
        _ => "the more frequent of two tests is the tighter",
    };

    private void Error(ProfileDocument document, int line, string reason, string remedy) => _errors.Add(new(document.File, line, reason, remedy));

    // What the files cannot know: the shape of the fact that publishes the profile.
    private Compiled Checked(ProfilePublished profile)
    {
        try
        {
            FactCatalog.Read(FactCatalog.Of(profile), FactCatalog.Write(profile));
            return new(profile, []);
        }
        catch (FactShapeException e)
        {
            return new(null, [.. e.Problems.Select(p => new ProfileError(_chain[0].File, _chain[0].Line, $"{p.Field} {p.Limit}.", p.Remedy))]);
        }
    }
}
