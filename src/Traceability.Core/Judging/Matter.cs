using System.Globalization;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Judging;

/// <summary>What a requirement judges: the unit's file, the profile in force, and the moment of judging.</summary>
public sealed class Matter
{
    private readonly Dictionary<string, Limit> _limits, _plan;
    private readonly HashSet<Citation> _plantsAlone;
    private readonly string _product;
    private readonly bool _contractAlone;
    private DateTimeOffset? _validUntil;

    /// <param name="contractAlone">Leaves out the plant's own limits where the contract states one too.</param>
    public Matter(UnitFile file, DateTimeOffset at, bool contractAlone = false)
    {
        File = file;
        _contractAlone = contractAlone;
        _at = file.Time.Local(at);
        Profile = file.Profile;
        _limits = (Profile?.Fact.Limits ?? []).ToDictionary(l => l.Key, StringComparer.Ordinal);
        _plan = (Profile?.Fact.PlanLimits ?? []).Where(l => !contractAlone || !_limits.ContainsKey(l.Key)).ToDictionary(l => l.Key, StringComparer.Ordinal);
        _plantsAlone = [.. _limits.Values.Where(l => l.Rank == LimitRank.PlantPlan).Concat(_plan.Values).Select(l => l.Source)];
        _product = LimitKeys.Product(file.Drawing?.Fact.Product ?? "");
    }

    private readonly DateTimeOffset _at;

    public UnitFile File { get; }

    public Entry<ProfilePublished>? Profile { get; }

    public RoundingRule Rounding => Profile?.Fact.Rounding ?? RoundingRule.Absolute;

    /// <summary>When time alone would change the judgement; null when it never does.</summary>
    public DateTimeOffset? ValidUntil => _validUntil;

    /// <summary>
    /// Whether a moment has come. The only way a requirement may use the present: the moment is remembered, so that the
    /// judgement knows until when it stands.
    /// </summary>
    public bool HasCome(DateTimeOffset moment)
    {
        if (_at >= moment) return true;
        if (_validUntil is not { } until || moment < until) _validUntil = moment;
        return false;
    }

    /// <summary>
    /// The profile's limit, or null when it has none under this key: the one for the unit's kind of product where there is
    /// one, and the plant's own where that is tighter.
    /// </summary>
    public Limit? Limit(string key)
    {
        var own = LimitKeys.For(key, _product);
        var stated = _limits.ContainsKey(own) || _plan.ContainsKey(own) || NotAsked(own) is not null ? own : key;
        return _plan.GetValueOrDefault(stated) ?? _limits.GetValueOrDefault(stated);
    }

    /// <summary>What the profile chose of the editions and rules that agencies differ in (<see cref="LimitKeys.Editions"/>); null when it chose none.</summary>
    public string? Edition(string name) => Profile?.Fact.Editions?.FirstOrDefault(e => e.Name == name)?.Value;

    /// <summary>Whether a key of the profile holds for this unit: one for a product alone holds for that product.</summary>
    public bool Concerns(string key) => !key.Contains('@', StringComparison.Ordinal) || key.EndsWith("@" + _product, StringComparison.Ordinal);

    /// <summary>How the contract lifts a requirement or a limit for this unit; null when it does not.</summary>
    public NotAsked? Lifted(string what) => NotAsked(LimitKeys.For(what, _product)) ?? NotAsked(what);

    private NotAsked? NotAsked(string what) => Profile?.Fact.NotAsked?.FirstOrDefault(n => string.Equals(n.What, what, StringComparison.Ordinal));

    /// <summary>The finding that the contract does not ask for what a requirement judges.</summary>
    public Finding NotAskedOf(IRequirement requirement, string subject, NotAsked lifted) =>
        Finding(requirement, subject, Verdict.NotApplicable, $"Not asked by this contract: {lifted.Printed}.", lifted.Source) with { Used = [Profile!.Id] };

    /// <summary>The calendar day of a moment of the unit's file, whose times are the plant's: certificates and calibrations are dated in plant days.</summary>
    public static DateOnly DayOf(DateTimeOffset at) => DateOnly.FromDateTime(at.DateTime);

    /// <summary>A finding of a requirement about a subject, to be completed.</summary>
    public static Finding Finding(IRequirement requirement, string subject, Verdict verdict, string reason, Citation source) => new()
    {
        Requirement = requirement.Id,
        Hold = requirement.Hold,
        Subject = subject,
        Title = requirement.Title,
        Verdict = verdict,
        Reason = reason,
        Source = source,
    };

    /// <summary>The finding that a limit is absent from the profile: nothing can be met without it, unless the contract lifts it.</summary>
    public Finding NoLimit(IRequirement requirement, string subject, string key) => Lifted(key) is { } lifted
        ? NotAskedOf(requirement, subject, lifted)
        : Finding(requirement, subject, Verdict.Missing,
            Profile is null ? "No profile of limits is in force: the unit's contract or the profile it adopted has not been recorded." : $"The profile {Profile.Fact.About.Id} has no limit '{key}'.",
            new Citation("Profile of limits of the contract", SourceMark.CommonPractice))
        with { Clear = "The quality engineer opens the contract or publishes a profile that states it." };

    /// <summary>Whether a requirement is judged: what is the plant's alone stands in no document for the agency.</summary>
    public bool Judges(IRequirement requirement) => !_contractAlone || !requirement.PlantOnly;

    /// <summary>A finding as a contract sees it: missing a limit that the plant alone set itself is no failure of the contract.</summary>
    public Finding ByContract(Finding finding) => _contractAlone && finding.Verdict != Verdict.Met && IsPlants(finding)
        ? finding with
        {
            Verdict = Verdict.NotApplicable,
            Reason = "The contract states no limit of this.",
            Source = new Citation("Profile of limits of the contract", SourceMark.Recorded),
            Limit = "",
            Rounding = "",
            Clear = "",
            Due = null,
        }
        : finding;

    /// <summary>Whether a finding's limit is one that the plant set itself, and no document of the contract.</summary>
    public bool IsPlants(Finding finding) => finding.Limit.Length > 0 && _plantsAlone.Contains(finding.Source);

    /// <summary>A finding against a limit: cites it, prints it, says how the observed value was rounded.</summary>
    public Finding Against(IRequirement requirement, string subject, Limit limit, bool met, string reason, string observed) =>
        Finding(requirement, subject, met ? Verdict.Met : Verdict.NotMet, reason, limit.Source) with
        {
            Limit = limit.Printed,
            LimitConfirmed = limit.ConfirmedBy is not null,
            Observed = observed,
            Rounding = RoundingText(limit),
        };

    /// <summary>The observed value rounded to the limit's digits by the profile's rule.</summary>
    public decimal Rounded(decimal observed, Limit limit) => Quantities.Rounding.ForLimit(observed, limit.Value, Rounding);

    public string RoundingText(Limit limit) => RoundingText(limit.Value);

    /// <summary>The rounding to a limit's digits, in words.</summary>
    public string RoundingText(Reading limit) =>
        RoundingText(Quantities.Rounding.DigitsOf(limit) is var digits && digits == 0 ? "to whole units" : $"to {digits} decimals");

    /// <summary>The rounding to a step, in words: "mean to 0.5 in, half to even".</summary>
    public string StepText(string what, decimal step, string unit) => RoundingText($"{what} to {Text(step)} {unit}");

    private string RoundingText(string to) => Rounding switch
    {
        RoundingRule.HalfEven => to + ", half to even",
        RoundingRule.HalfUp => to + ", half up",
        RoundingRule.Truncate => to + ", truncated",
        _ => "compared as observed",
    };

    /// <summary>Text of a number for a finding: invariant, without trailing zeros.</summary>
    public static string Text(decimal value) => value.ToString("0.############", CultureInfo.InvariantCulture);

    /// <summary>Set-aside records of one type that bear on this unit, for the "set aside" list of a finding.</summary>
    public IReadOnlyList<UnusedEvidence> Unused<T>() where T : IFact => File.SetAside.Count == 0 ? []
        : [.. File.SetAside.Where(s => s.Kind != SetAsideKind.Replaced && (s.Record.Fact is T || (s.Record.Fact is RecordCorrected c && c.Type == FactCatalog.Of<T>().Type)))
            .Select(s => new UnusedEvidence(s.Evidence, s.Reason))];

    /// <summary>Whether a person held a certification on the day of a moment.</summary>
    public CertificateCheck Certified(string? person, Certification certification, Moment at)
    {
        if (person is null) return new(false, "the record names no person", null);
        var day = DayOf(at.At);
        var all = File.Of<PersonCertified>().Where(c => c.Fact.Person == person && c.Fact.Certification == certification).ToList();
        var valid = all.LastOrDefault(c => c.Fact.IssuedOn <= day && day <= c.Fact.ValidThrough);
        if (valid is not null) return new(true, $"{person} certified through {valid.Fact.ValidThrough:yyyy-MM-dd}", valid.Id);
        var last = all.LastOrDefault();
        return last is null
            ? new(false, $"no certificate as {Words(certification)} is recorded for {person}", null)
            : new(false, $"the certificate of {person} runs {last.Fact.IssuedOn:yyyy-MM-dd} through {last.Fact.ValidThrough:yyyy-MM-dd}, not on {day:yyyy-MM-dd}", last.Id);
    }

    /// <summary>Whether an instrument was in calibration on the day of a moment and not found out afterwards.</summary>
    /// <param name="largestErrorPct">As-found error above which earlier results are in doubt, percent; null when not asked.</param>
    public CertificateCheck InCalibration(string instrument, DateTimeOffset at, decimal? largestErrorPct = null)
    {
        var day = DayOf(at);
        var all = File.Of<InstrumentCalibrated>().Where(c => c.Fact.Instrument == instrument).OrderBy(c => c.Fact.CalibratedOn).ToList();
        var valid = all.LastOrDefault(c => c.Fact.CalibratedOn <= day && day <= c.Fact.ValidThrough);
        if (valid is null)
        {
            return all.Count == 0
                ? new(false, $"no calibration of {instrument} is recorded", null)
                : new(false, $"{instrument} was not in calibration on {day:yyyy-MM-dd}", all[^1].Id);
        }

        // Two things of one day have no order: found out on the day of the use, it may have been used before.
        if (largestErrorPct is { } most && all.Find(c => c.Fact.CalibratedOn == day && c.Fact.AsFoundErrorPct is { } error && Math.Abs(error.Value) > most) is { } sameDay)
            return new(false, $"{instrument} was found {sameDay.Fact.AsFoundErrorPct!.Value.Text} % out on {day:yyyy-MM-dd}, the day it was used", sameDay.Id);

        // Whatever finds the instrument out puts every result since the last good calibration in doubt.
        var next = all.FirstOrDefault(c => c.Fact.CalibratedOn > valid.Fact.CalibratedOn || (c.Fact.CalibratedOn == valid.Fact.CalibratedOn && c.Id.CompareTo(valid.Id) > 0));
        if (largestErrorPct is { } largest && next?.Fact.AsFoundErrorPct is { } asFound && Math.Abs(asFound.Value) > largest)
            return new(false, $"{instrument} was found {asFound.Text} % out on {next.Fact.CalibratedOn:yyyy-MM-dd}; results since {valid.Fact.CalibratedOn:yyyy-MM-dd} are in doubt", next.Id);
        var found = File.Of<InstrumentFoundOut>().Where(f => f.Fact.Instrument == instrument && (f.Fact.FoundOn > valid.Fact.CalibratedOn || f.Fact.FoundOn == day) && (next is null || f.Fact.FoundOn <= next.Fact.CalibratedOn))
            .OrderBy(f => f.Fact.FoundOn).FirstOrDefault();
        if (found is not null)
            return new(false, $"{instrument} was found {found.Fact.ErrorPct.Text} % out on {found.Fact.FoundOn:yyyy-MM-dd}; results since {valid.Fact.CalibratedOn:yyyy-MM-dd} are in doubt", found.Id);

        return new(true, $"{instrument} in calibration through {valid.Fact.ValidThrough:yyyy-MM-dd}", valid.Id);
    }

    private static string Words(Certification certification) => certification switch
    {
        Certification.PlantInspector => "plant inspector",
        Certification.FieldTestingTechnician => "field testing technician",
        Certification.StrengthTestingTechnician => "strength testing technician",
        _ => "welder",
    };
}

/// <summary>The result of looking up a certificate or a calibration.</summary>
public sealed record CertificateCheck(bool Valid, string Words, Guid? Record);
