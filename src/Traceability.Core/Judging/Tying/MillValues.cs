using System.Globalization;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Tying;

/// <summary>
/// Yield, tensile strength, their ratio and elongation on the mill test report of every heat and bar size in the cage.
/// Needs: cage tied, lot certified. Which edition of the steel's specification holds is the profile's; a ratio or a
/// largest yield is asked only where the profile states one.
/// </summary>
public sealed class MillValues : IRequirement
{
    private static readonly Citation Source = new("ASTM A615/A615M", SourceMark.Memory, Clause: "tensile requirements");

    public string Id => "tying.mill-values";
    public HoldKind Hold => HoldKind.Tying;
    public string Title => "Mill test values of the steel";

    public IReadOnlyList<string> Limits =>
    [
        "steel.<specification>-<grade>.yield-min", "steel.<specification>-<grade>.yield-max", "steel.<specification>-<grade>.tensile-min",
        "steel.<specification>-<grade>.ratio-min", "steel.<specification>-<grade>.elongation-min.<sizes>",
    ];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        if (matter.File.Cage is not { } cage)
        {
            yield return Evidence.Absent<CageTied>(this, matter, matter.File.Unit.Key, "No cage has been tied for this unit yet.", "The cage crew records the cage with its heats.", Source);
            yield break;
        }

        foreach (var finding in CageLots.Empty(this, matter, cage, Source)) yield return finding;
        foreach (var held in CageLots.Of(matter, cage))
        {
            var (lot, size) = (held.Lot, held.Size);
            var subject = $"{lot.Subject.Key} {size}";
            var certificates = matter.File.Of<LotCertified>().Where(c => c.Fact.Lot == lot && (c.Fact.Size is null || c.Fact.Size == size)).ToList();
            if (certificates.Count == 0)
            {
                yield return Evidence.Absent<LotCertified>(this, matter, subject, $"No mill test report for heat {lot.Number}, size {size}.", "Receiving reads in the certificate, or the bars are taken out.", Source)
                    with { Verdict = Verdict.Missing, Used = held.Used };
            }

            foreach (var finding in certificates.SelectMany(c => Certificate(matter, subject, size, c)))
                yield return finding with { Verdict = finding.Verdict == Verdict.NotMet ? held.Failed : finding.Verdict, Used = [.. held.Used, .. finding.Used] };
        }
    }

    private IEnumerable<Finding> Certificate(Matter matter, string subject, string size, Entry<LotCertified> certificate)
    {
        var fact = certificate.Fact;
        var steel = $"steel.{Designation(fact.Specification)}-{fact.Grade.Split(' ')[^1]}";
        yield return Value(matter, subject + " yield strength", certificate, steel + ".yield-min", fact.YieldPsi?.Value, "psi", atLeast: true);
        if (matter.Limit(steel + ".yield-max") is not null) yield return Value(matter, subject + " largest yield strength", certificate, steel + ".yield-max", fact.YieldPsi?.Value, "psi", atLeast: false);
        yield return Value(matter, subject + " tensile strength", certificate, steel + ".tensile-min", fact.TensilePsi?.Value, "psi", atLeast: true);
        if (matter.Limit(steel + ".ratio-min") is not null)
        {
            var ratio = fact.YieldPsi is { Value: > 0 } yield ? fact.TensilePsi?.Value / yield.Value : null;
            yield return Value(matter, subject + " ratio of tensile to yield", certificate, steel + ".ratio-min", ratio, "", atLeast: true);
        }

        yield return Value(matter, subject + " elongation", certificate, ElongationKey(matter, steel, size), fact.ElongationPct?.Value, "%", atLeast: true);
    }

    private Finding Value(Matter matter, string subject, Entry<LotCertified> certificate, string key, decimal? value, string unit, bool atLeast)
    {
        if (matter.Limit(key) is not { } limit) return matter.NoLimit(this, subject, key) with { Used = [certificate.Id] };
        if (value is not { } stated)
        {
            return Matter.Finding(this, subject, Verdict.Missing, $"Certificate {certificate.Fact.CertificateNumber} does not state it.", limit.Source)
                with { Limit = limit.Printed, LimitConfirmed = limit.ConfirmedBy is not null, Clear = "Receiving asks the mill for the complete report.", Used = [certificate.Id] };
        }

        var compared = matter.Rounded(stated, limit);
        var met = atLeast ? compared >= limit.Value.Value : compared <= limit.Value.Value;
        var observed = $"{Matter.Text(decimal.Round(stated, 4))} {unit}".TrimEnd();
        return matter.Against(this, subject, limit, met, $"Certificate {certificate.Fact.CertificateNumber} states {observed}; {(atLeast ? "at least" : "at most")} {limit.Value.Text} is asked.", observed)
            with { Clear = met ? "" : "The bars are taken out, or the quality engineer raises a nonconformance.", Used = [certificate.Id, matter.Profile!.Id] };
    }

    // "ASTM A615/A615M" -> "a615": the designation is the key of the profile, whatever else the mill prints around it.
    private static string Designation(string specification)
    {
        var start = specification.IndexOf('A', StringComparison.Ordinal);
        while (start >= 0 && (start + 1 >= specification.Length || !char.IsAsciiDigit(specification[start + 1])))
            start = specification.IndexOf('A', start + 1);
        if (start < 0) return specification;
        var end = start + 1;
        while (end < specification.Length && char.IsAsciiDigit(specification[end])) end++;
        return specification[start..end].ToLowerInvariant();
    }

    /// <summary>The limit whose range of bar sizes holds this size, for example "…elongation-min.3-6" for "#5".</summary>
    private static string ElongationKey(Matter matter, string steel, string size)
    {
        var prefix = steel + ".elongation-min.";
        if (int.TryParse(size.TrimStart('#'), NumberStyles.None, CultureInfo.InvariantCulture, out var number))
        {
            foreach (var limit in matter.Profile?.Fact.Limits ?? [])
            {
                if (!limit.Key.StartsWith(prefix, StringComparison.Ordinal)) continue;
                var ends = limit.Key[prefix.Length..].Split('-');
                if (ends.Length == 2 && int.TryParse(ends[0], out var from) && int.TryParse(ends[1], out var to) && from <= number && number <= to) return limit.Key;
            }
        }

        return prefix + size;
    }
}
