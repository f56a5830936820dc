using Traceability.Core.Events;

namespace Traceability.Core.Judging;

/// <summary>
/// One measured dimension against its specified value by the tolerance of its kind. A thickness may be under by the larger of
/// a share and a figure; over it is no cause for rejection.
/// </summary>
internal static class Tolerance
{
    private const string Under = "dimension.thickness.under", UnderShare = "dimension.thickness.under-share",
        Opening = "dimension.opening", Length = "dimension.length", Position = "dimension.position";

    /// <summary>Limits asked of the profile.</summary>
    public static readonly IReadOnlyList<string> Keys = [Under, UnderShare, Opening, Length, Position];

    public static Finding Judge(IRequirement requirement, Matter matter, string subject, SpecifiedDimension specified, MeasuredDimension measured, string clear)
    {
        var key = specified.Kind switch { DimensionKind.Thickness => Under, DimensionKind.Opening => Opening, DimensionKind.Position => Position, _ => Length };
        if (matter.Limit(key) is not { } limit) return matter.NoLimit(requirement, subject, key);
        var nominal = specified.SpecifiedIn.Value;
        decimal least;
        decimal? greatest;
        if (specified.Kind == DimensionKind.Thickness)
        {
            if (matter.Limit(UnderShare) is not { } share) return matter.NoLimit(requirement, subject, UnderShare);
            (least, greatest) = (nominal - Math.Max(nominal * share.Value.Value / 100, limit.Value.Value), null);
        }
        else
        {
            var off = specified.Kind == DimensionKind.Opening ? nominal * limit.Value.Value / 100 : limit.Value.Value;
            (least, greatest) = (nominal - off, nominal + off);
        }

        var observed = measured.MeasuredIn.Value;
        var met = observed >= least && (greatest is null || observed <= greatest);
        var words = met ? "inside the tolerance" : observed < least ? "too small" : "too large";
        return matter.Against(requirement, subject, limit, met, $"{specified.Name}: {measured.MeasuredIn.Text} in measured, {specified.SpecifiedIn.Text} in drawn, {words}.", measured.MeasuredIn.Text + " in") with
        {
            Limit = $"{specified.SpecifiedIn.Text} in specified, at least {Matter.Text(least)} in" + (greatest is { } g ? $", at most {Matter.Text(g)} in" : ""),
            Rounding = "compared as read",
            Clear = met ? "" : clear,
        };
    }
}
