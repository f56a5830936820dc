using System.Globalization;
using System.Text;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Profiles;

namespace Traceability.Service.Packets.Pages;

/// <summary>Names of things as a reader of the packet knows them.</summary>
internal static class Words
{
    /// <summary>"FormedSoffit" as "formed soffit".</summary>
    public static string Of(Enum value)
    {
        var text = new StringBuilder();
        foreach (var c in value.ToString())
        {
            if (char.IsUpper(c) && text.Length > 0) text.Append(' ');
            text.Append(char.ToLowerInvariant(c));
        }

        return text.ToString();
    }

    public static string Of(Verdict verdict) => verdict switch
    {
        Verdict.Met => "met",
        Verdict.NotMet => "NOT MET",
        Verdict.Missing => "MISSING",
        Verdict.Pending => "PENDING",
        Verdict.Provisional => "PROVISIONAL",
        Verdict.CannotTell => "CANNOT TELL",
        Verdict.NotMetAccepted => "NOT MET, ACCEPTED",
        Verdict.Waived => "WAIVED",
        _ => "not applicable",
    };

    public static string Of(HoldKind hold) => hold switch
    {
        HoldKind.Tying => "before tying",
        HoldKind.CloseUp => "close-up",
        _ => Of((Enum)hold),
    };

    public static string Of(HoldState state) => state switch
    {
        HoldState.PassedWithoutRelease => "PASSED WITHOUT RELEASE",
        HoldState.CannotTell => "CANNOT TELL which came first",
        HoldState.Held => "HELD",
        _ => Of((Enum)state),
    };

    public static string Of(CuringPlace place) => place == CuringPlace.WithUnit ? "with the unit" : "standard curing";

    /// <summary>What a record of this type is, in the catalogue's words without the last stop.</summary>
    public static string OfType(string type) =>
        FactCatalog.All.TryGetValue(type, out var known) ? known.Summary.TrimEnd('.') : type;

    public static string Of(LotId lot) => $"{lot.Producer} / {lot.Number}";

    public static string Of(BatchId batch) => $"{batch.Plant} / {batch.Ticket}";

    /// <summary>What a requirement without a printed limit cites. Nothing unconfirmed is dressed up as a clause.</summary>
    public static string Source(Citation source) => source.Mark switch
    {
        SourceMark.Published => PacketMatter.Cited(source),
        SourceMark.Recorded => PacketMatter.Cited(source),
        SourceMark.Memory => PacketMatter.Cited(source) + " (clause not confirmed)",
        _ => "plant practice, no document cited",
    };

    public static string Many(int count, string one, string? many = null) =>
        string.Create(CultureInfo.InvariantCulture, $"{count} {(count == 1 ? one : many ?? one + "s")}");
}
