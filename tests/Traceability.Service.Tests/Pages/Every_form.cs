using System.Net;
using System.Text.RegularExpressions;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.AspNetCore.Routing;
using Microsoft.Extensions.DependencyInjection;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Tests.Hosting;

namespace Traceability.Service.Tests.Pages;

/// <summary>
/// Reads every form of every page, found by following the links of the running service, as each role. A page that is added later is held to
/// the same: one that no link leads to fails here.
/// </summary>
public sealed partial class Every_form
{
    // Of pages that stand for many of one kind, as many are read as can differ.
    private const int MostOfAKind = 6;

    [Fact]
    public async Task Every_form_that_is_posted_carries_its_token()
    {
        await using var host = await PlantHost.StartAsync();
        var story = PlantStory.RigidFrame(17, 4, PlantStory.StartFor(4, TimeProvider.System.GetUtcNow()), Mishaps.All);
        await host.SendAsync(story.Facts.DistinctBy(f => (f.Event.Source, f.Event.Id)));
        await host.SettleAsync(story.Facts.DistinctBy(f => (f.Event.Source, f.Event.Id)).Count() - 2);
        var templates = host.Services.GetRequiredService<EndpointDataSource>().Endpoints.OfType<RouteEndpoint>()
            .Where(e => e.Metadata.GetMetadata<PageActionDescriptor>() is not null).Select(e => "/" + e.RoutePattern.RawText!.TrimStart('/')).ToHashSet(StringComparer.OrdinalIgnoreCase);

        var (bare, forms, seen) = (new List<string>(), 0, new HashSet<string>(StringComparer.OrdinalIgnoreCase));
        foreach (var worker in new[] { Plant.QualityEngineer, Plant.Inspector, Plant.NorthInspector, Plant.Administrator, Plant.Auditor })
        {
            using var http = await host.SignInAsync(worker);
            var (waiting, known, kinds) = (new Queue<string>(["/", "/sign-in", "/sign-out", "/not-allowed", "/?position=200", "/replay/changes?from=150&to=160"]), new HashSet<string>(["/"]), new Dictionary<string, int>());
            while (waiting.TryDequeue(out var path))
            {
                var template = Template(templates, path);
                if (template is null) continue;
                seen.Add(template);
                var kind = template + path[(path.IndexOf('?', StringComparison.Ordinal) is var q && q < 0 ? path.Length : q)..].Split('=')[0];
                kinds[kind] = kinds.GetValueOrDefault(kind) + 1;
                if (kinds[kind] > MostOfAKind) continue;
                var (status, html) = await http.PageAsync(path);
                if (status is HttpStatusCode.Redirect or HttpStatusCode.Forbidden) continue;
                Assert.True(status is HttpStatusCode.OK or HttpStatusCode.NotFound, $"{worker.Id} {path}: {status}");
                foreach (Match form in Form().Matches(html))
                {
                    if (!form.Value[..form.Value.IndexOf('>', StringComparison.Ordinal)].Contains("method=\"post\"", StringComparison.OrdinalIgnoreCase)) continue;
                    forms++;
                    if (!form.Value.Contains("name=\"__RequestVerificationToken\"", StringComparison.Ordinal)) bare.Add($"{worker.Id} {path}: {form.Value[..Math.Min(120, form.Value.Length)]}");
                }

                foreach (Match link in Link().Matches(html))
                {
                    var to = WebUtility.HtmlDecode(link.Groups[1].Value).Split('#')[0];
                    if (to.StartsWith('/') && known.Add(to)) waiting.Enqueue(to);
                }
            }
        }

        Assert.True(bare.Count == 0, string.Join('\n', bare.Distinct()));
        Assert.True(forms > 50, $"{forms}");
        // This small story has no decision to replay, and nothing links to the page of errors.
        var unseen = templates.Except(seen, StringComparer.OrdinalIgnoreCase).Where(t => !t.StartsWith("/replay/decisions/", StringComparison.Ordinal) && !t.StartsWith("/went-wrong", StringComparison.Ordinal));
        Assert.True(!unseen.Any(), "no link leads to " + string.Join(", ", unseen));
    }

    // The page that an address leads to: the template with the most words in common.
    private static string? Template(HashSet<string> templates, string path)
    {
        var parts = path.Split('?')[0].Trim('/').Split('/');
        return templates.Where(t => t.Trim('/').Split('/') is var words && words.Length == parts.Length && words.Zip(parts).All(p => p.First.StartsWith('{') || string.Equals(p.First, p.Second, StringComparison.OrdinalIgnoreCase)))
            .MinBy(t => t.Count(c => c == '{'));
    }

    [GeneratedRegex("<form\\b.*?</form>", RegexOptions.Singleline | RegexOptions.IgnoreCase)]
    private static partial Regex Form();

    [GeneratedRegex("<a\\b[^>]*\\bhref=\"([^\"]+)\"")]
    private static partial Regex Link();
}
