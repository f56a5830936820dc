using System.Text.RegularExpressions;
using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Tests.Events;

/// <summary>Country names against the code table of the tz database (iso3166.tab, public domain; its codes are of ISO 3166-1 as of N1108).</summary>
public sealed partial class CountriesTests
{
    // Where the two tables name the same country in words that have none in common.
    private static readonly string[] s_otherwiseNamed = ["BL", "BQ", "CZ", "GB", "MO"];

    private static Dictionary<string, string> Outside() =>
        File.ReadLines(Repository.Path("tests", "Traceability.Core.Tests", "Events", "iso3166.tab")).Where(l => !l.StartsWith('#')).Select(l => l.Split('\t')).ToDictionary(l => l[0], l => l[1]);

    [Fact]
    [OutsideCheck("Every country code has a name and no other code has one", "249 codes", "ISO 3166-1 alpha-2, as listed by iso3166.tab of the tz database", SourceMark.Published)]
    public void Every_code_has_a_name_and_no_other_code_has_one()
    {
        Assert.Equal(Outside().Keys.Order(StringComparer.Ordinal), Countries.All.Keys.Order(StringComparer.Ordinal));
        Assert.Equal(249, Countries.All.Count);
        Assert.Equal(249, Countries.All.Values.Distinct(StringComparer.Ordinal).Count());
    }

    [Fact]
    [OutsideCheck("The name stands at the right code: it shares a word with the other table's name", "244 of 249, the five others read by eye", "iso3166.tab of the tz database", SourceMark.Published)]
    public void A_name_stands_at_its_own_code()
    {
        var strange = Outside().Where(o => !Words(Countries.All[o.Key]).Overlaps(Words(o.Value))).Select(o => o.Key).Order(StringComparer.Ordinal);
        Assert.Equal(s_otherwiseNamed, strange);
        Assert.Equal(("Canada", "the United States", "Mexico"), (Countries.Name("CA"), Countries.Name("US"), Countries.Name("MX")));
    }

    [Theory]
    [InlineData("ca")]
    [InlineData("UK")]
    [InlineData("XX")]
    [InlineData("")]
    public void What_is_no_code_is_named_as_such(string code) => Assert.Equal($"\"{code}\" (not a country code)", Countries.Name(code));

    private static HashSet<string> Words(string name) =>
        [.. Word().Matches(name.ToLowerInvariant()).Select(m => m.Value).Except(["island", "islands", "saint", "republic", "united"])];

    [GeneratedRegex(@"\w{4,}")]
    private static partial Regex Word();
}
