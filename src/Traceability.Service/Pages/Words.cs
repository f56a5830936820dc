using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.Service.Assembling;

namespace Traceability.Service.Pages;

/// <summary>How urgently a word asks for somebody: decides its colour, which never stands without a symbol and the word.</summary>
public enum Urgency { None, Watch, Act }

/// <summary>A state as the pages show it.</summary>
public readonly record struct Mark(string Symbol, string Word, Urgency Urgency);

/// <summary>The words of the pages.</summary>
public static class Words
{
    public static Mark Of(Verdict verdict) => verdict switch
    {
        Verdict.Met => new("✓", "met", Urgency.None),
        Verdict.NotMet => new("✕", "not met", Urgency.Act),
        Verdict.Missing => new("○", "missing", Urgency.Act),
        Verdict.Pending => new("…", "pending", Urgency.Watch),
        Verdict.Provisional => new("≈", "provisional", Urgency.Watch),
        Verdict.CannotTell => new("?", "cannot tell", Urgency.Act),
        Verdict.NotMetAccepted => new("✕✓", "not met, accepted", Urgency.None),
        Verdict.Waived => new("~", "waived", Urgency.None),
        _ => new("–", "not applicable", Urgency.None),
    };

    public static Mark Of(Hold hold) => Of(hold.State, hold.NeedsRelease, hold.Contradicted);

    public static Mark Of(HoldRow hold) => Of(hold.State, hold.NeedsRelease, hold.Contradicted);

    private static Mark Of(HoldState state, bool needsRelease, bool contradicted) => state switch
    {
        HoldState.Released when contradicted => new("!", "released; later evidence against it", Urgency.Act),
        HoldState.Held => new("■", "held", Urgency.Watch),
        HoldState.Ready => needsRelease ? new("▷", "ready to release", Urgency.Watch) : new("✓", "clear", Urgency.None),
        HoldState.Released => new("✓", "released", Urgency.None),
        HoldState.Expired => new("✕", "release expired", Urgency.Act),
        HoldState.Overridden => new("!", "overridden", Urgency.Act),
        HoldState.PassedWithoutRelease => new("!", "passed without release", Urgency.Act),
        _ => new("?", "cannot tell whether released in time", Urgency.Act),
    };

    /// <summary>A hold's state alone, without whether it needs a release.</summary>
    public static string Of(HoldState state) => state == HoldState.Ready ? "ready" : Of(state, true, false).Word;

    public static string Of(HoldKind kind) => kind switch
    {
        HoldKind.Tying => "Before tying",
        HoldKind.CloseUp => "Close-up",
        HoldKind.Pour => "Pour",
        HoldKind.Place => "Placing",
        HoldKind.Strip => "Strip",
        HoldKind.Ship => "Ship",
        _ => kind.ToString(),
    };

    public static string Of(AlarmKind kind) => kind switch
    {
        AlarmKind.PassedWithoutRelease => "Passed without release",
        AlarmKind.OverrideBreach => "Override where none is allowed",
        AlarmKind.Contradicted => "Later evidence contradicts the release",
        AlarmKind.Expired => "The release has expired",
        AlarmKind.WithoutNotice => "Without due notice to the agency",
        _ => "Cannot tell what came first",
    };

    public static string Of(DispositionKind disposition) => disposition switch
    {
        DispositionKind.UseAsIs => "use as is",
        DispositionKind.Repair => "repair",
        DispositionKind.Rework => "rework",
        _ => "reject",
    };

    public static string Of(UnitPhase phase) => phase switch
    {
        UnitPhase.Scheduled => "scheduled",
        UnitPhase.Tied => "cage tied",
        UnitPhase.Inspected => "in the form, inspected",
        UnitPhase.Poured => "poured, in the form",
        UnitPhase.Stripped => "stripped",
        UnitPhase.InYard => "in the yard",
        UnitPhase.Loaded => "loaded",
        UnitPhase.Returned => "returned",
        UnitPhase.Shipped => "shipped",
        UnitPhase.Delivered => "delivered",
        UnitPhase.Rejected => "rejected",
        UnitPhase.Disposed => "disposed of",
        _ => "not scheduled",
    };

    public static string Of(CylinderPurpose purpose) => purpose switch
    {
        CylinderPurpose.LaterAge => "later age",
        _ => purpose.ToString().ToLowerInvariant(),
    };

    /// <summary>"cage.tied.v1" as "Cage tied".</summary>
    public static string OfType(string type)
    {
        var dot = type.LastIndexOf(".v", StringComparison.Ordinal);
        var name = (dot > 0 ? type[..dot] : type).Replace('.', ' ');
        return name.Length == 0 ? type : char.ToUpperInvariant(name[0]) + name[1..];
    }

    public static string Of(Core.Profiles.SourceMark mark) => mark switch
    {
        Core.Profiles.SourceMark.Published => "published",
        Core.Profiles.SourceMark.Memory => "from memory",
        Core.Profiles.SourceMark.Recorded => "as recorded here",
        _ => "common practice, no source",
    };

    /// <summary>Where a subject's page is; null for what has none.</summary>
    public static string? Href(string? key)
    {
        if (!Subject.TryParse(key, out var subject)) return null;
        return subject.Kind switch
        {
            "unit" => Unit(subject.Id),
            "record" => "/records/" + subject.Id,
            _ => "/subjects/" + Path(subject.Key),
        };
    }

    public static string Unit(string serial) => "/units/" + Path(serial);

    private static string Path(string text) => string.Join('/', text.Split('/').Select(Uri.EscapeDataString));

    public static string Count(int count, string one, string? many = null) =>
        count == 1 ? "1 " + one : count.ToString(System.Globalization.CultureInfo.InvariantCulture) + " " + (many ?? one + "s");
}
