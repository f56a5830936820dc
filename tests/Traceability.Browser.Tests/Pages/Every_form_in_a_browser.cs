using System.Net;
using System.Text.RegularExpressions;
using Microsoft.Playwright;
using Traceability.Browser.Tests.Hosting;
using Traceability.PlantSimulator.Story;

namespace Traceability.Browser.Tests.Pages;

/// <summary>
/// Every form that a role meets by following links is filled, and pressed in a real Chromium after the session was lost, and once more with
/// a token that is not this session's. Pages and forms are found, not listed: what is added later is held to the same.
/// </summary>
[Collection(PagesCollection.Name)]
public sealed partial class Every_form_in_a_browser(CastPlant cast) : PagesTest(cast)
{
    // Of pages of one kind, as many are looked through for further kinds of forms.
    private const int MostOfAKind = 12;

    public static TheoryData<string, int> Roles => new()
    {
        { Plant.QualityEngineer.Id, 4 }, { Plant.Inspector.Id, 2 }, { Plant.NorthInspector.Id, 2 }, { Plant.Administrator.Id, 9 }, { Plant.Auditor.Id, 1 },
    };

    [Theory]
    [MemberData(nameof(Roles))]
    public async Task Nothing_typed_is_lost_with_the_session_or_with_the_token_of_another(string person, int kinds)
    {
        var page = await SignInAsync(person);
        var problems = new List<string>();
        var forms = await FormsAsync(page);
        foreach (var (kind, path, index) in forms)
        {
            try
            {
                await LoseSessionAsync(page, person, path, index);
            }
            catch (Exception e) when (e is TimeoutException or PlaywrightException or Xunit.Sdk.XunitException)
            {
                problems.Add($"{kind} on {path}: {e.Message} ({page.Url})");
                await page.ScreenshotAsync(new() { Path = Path.Combine(RunningPlant.Screens, $"form-{person}-{problems.Count}.png") });
                await page.Context.ClearCookiesAsync();
                await GoAsync(page, "/sign-in");
                await FillSignInAsync(page, person);
            }
        }

        Assert.True(problems.Count == 0, string.Join('\n', problems));
        Assert.True(forms.Count >= kinds, $"{person} met {forms.Count} kinds of forms only: {string.Join(", ", forms.Select(f => f.Kind))}");
    }

    private async Task LoseSessionAsync(IPage page, string person, string path, int index)
    {
        await GoAsync(page, path);
        var typed = await page.EvaluateAsync<string[]>(Fill, index);
        var name = await page.EvaluateAsync<string>(NameOf, index);
        await page.Context.ClearCookiesAsync();
        await PressAsync(page, index);
        await page.GetByRole(AriaRole.Heading, new() { Name = "Sign in" }).WaitForAsync();
        await FillSignInAsync(page, person);

        await page.GetByText("This was not sent yet").First.WaitForAsync();
        Assert.Equal(path.Split('?')[0], new Uri(page.Url).AbsolutePath);
        Assert.Equal(typed, await page.EvaluateAsync<string[]>(Typed, name));
        Assert.True(await page.EvaluateAsync<bool>(Shown, name), "the form stands in something closed");

        // The same with a token that the service does not take: a page, and what was typed once more.
        index = await page.EvaluateAsync<int>(IndexOf, name);
        await page.EvaluateAsync(SpoilToken, index);
        await PressAsync(page, index);
        await page.GetByRole(AriaRole.Heading, new() { Name = "This form was not taken" }).WaitForAsync();
        await page.GetByRole(AriaRole.Link, new() { Name = "Back to the page" }).ClickAsync();
        await page.GetByText("This was not sent yet").First.WaitForAsync();
        Assert.Equal(typed, await page.EvaluateAsync<string[]>(Typed, name));
    }

    private static async Task PressAsync(IPage page, int index)
    {
        // Secrets are filled at last: they are never kept, so they are not compared.
        await page.EvaluateAsync("i => [...document.forms[i].elements].filter(e => e.type === 'password').forEach(e => e.value = '000000')", index);
        foreach (var file in await page.Locator("form").Nth(index).Locator("input[type=file]").AllAsync())
            await file.SetInputFilesAsync(new FilePayload { Name = "letter.pdf", MimeType = "application/pdf", Buffer = new Traceability.PlantSimulator.Story.Weeks.Paper("Letter of this test").Bytes });
        await page.Locator("form").Nth(index).Locator("button[type=submit]").First.ClickAsync();
    }

    /// <summary>One of each kind of form that is posted, with a page that has it and its place there. Sign out is no form with something typed.</summary>
    private async Task<List<(string Kind, string Path, int Index)>> FormsAsync(IPage page)
    {
        var (waiting, known, pages, forms) = (new Queue<string>(["/", "/account"]), new HashSet<string>(["/", "/account"]), new Dictionary<string, int>(), new Dictionary<string, (string, int)>());
        while (waiting.TryDequeue(out var path))
        {
            var kindOfPage = Regex.Replace(path.Split('?')[0], "(?<=^/(units|subjects|records|profiles|compare|strength|replay/[a-z]+)/).+", "*");
            pages[kindOfPage] = pages.GetValueOrDefault(kindOfPage) + 1;
            if (pages[kindOfPage] > MostOfAKind || (path.Contains('?', StringComparison.Ordinal) && pages[kindOfPage] > 3)) continue;
            await using var answer = await page.Context.APIRequest.GetAsync(new Uri(Running.Address, path).ToString());
            if (!answer.Ok || !answer.Headers.GetValueOrDefault("content-type", "").StartsWith("text/html", StringComparison.Ordinal)) continue;
            var html = await answer.TextAsync();
            var index = 0;
            foreach (Match form in Form().Matches(html))
            {
                var tag = form.Value[..form.Value.IndexOf('>', StringComparison.Ordinal)];
                if (tag.Contains("method=\"post\"", StringComparison.Ordinal) && !tag.Contains("data-keep=\"no\"", StringComparison.Ordinal))
                {
                    var handler = Handler().Match(tag).Groups[1].Value;
                    forms.TryAdd($"{kindOfPage} {handler} {string.Join(',', Field().Matches(form.Value).Select(m => m.Groups[1].Value).Where(n => n[0] != '_').Distinct())}", (path, index));
                }

                index++;
            }

            foreach (Match link in Link().Matches(html))
            {
                var to = WebUtility.HtmlDecode(link.Groups[1].Value).Split('#')[0];
                if (to.StartsWith('/') && !to.StartsWith("/v1/", StringComparison.Ordinal) && !to.StartsWith("/kiosk", StringComparison.Ordinal) && known.Add(to)) waiting.Enqueue(to);
            }
        }

        return [.. forms.Select(f => (f.Key, f.Value.Item1, f.Value.Item2))];
    }

    private const string Fill = """
        i => {
          const form = document.forms[i];
          for (let part = form; part !== null; part = part.parentElement) if (part.tagName === "DETAILS") part.open = true;
          let n = 0;
          for (const e of form.elements) {
            if (e.type === "hidden" || e.type === "password" || e.type === "file" || e.type === "submit" || !e.name) continue;
            if (e.type === "checkbox" || e.type === "radio") e.checked = true;
            else if (e.tagName === "SELECT") e.selectedIndex = e.options.length - 1;
            else if (e.type === "datetime-local") e.value = "2026-11-2" + (++n % 10) + "T08:30";
            else if (e.type === "date") e.value = "2026-11-2" + (++n % 10);
            else if (e.type === "number") e.value = String(++n);
            else e.value = ("typed " + ++n).slice(0, e.maxLength > 0 ? e.maxLength : 60);
          }
          return [...form.elements].filter(e => e.name && !["hidden", "password", "file", "submit"].includes(e.type)).map(e => e.name + "=" + e.value + "/" + !!e.checked);
        }
        """;

    private const string NamedForm = """
        const named = f => JSON.stringify([new URL(f.action, location.href).search, [...f.elements].filter(e => e.name && e.type === "hidden" && e.name !== "__RequestVerificationToken").map(e => [e.name, e.value])]);
        """;

    private const string NameOf = "i => { " + NamedForm + " return named(document.forms[i]); }";

    private const string IndexOf = "name => { " + NamedForm + " return [...document.forms].findIndex(f => f.method === 'post' && f.dataset.keep !== 'no' && named(f) === name); }";

    private const string Typed = "name => { " + NamedForm + """
          const form = [...document.forms].find(f => f.method === "post" && f.dataset.keep !== "no" && named(f) === name);
          return [...form.elements].filter(e => e.name && !["hidden", "password", "file", "submit"].includes(e.type)).map(e => e.name + "=" + e.value + "/" + !!e.checked);
        }
        """;

    private const string Shown = "name => { " + NamedForm + """
          const form = [...document.forms].find(f => f.method === "post" && f.dataset.keep !== "no" && named(f) === name);
          return form.querySelector("button").checkVisibility();
        }
        """;

    private const string SpoilToken = "i => { document.forms[i].elements['__RequestVerificationToken'].value = 'of another session'; }";

    [GeneratedRegex("<form\\b.*?</form>", RegexOptions.Singleline | RegexOptions.IgnoreCase)]
    private static partial Regex Form();

    [GeneratedRegex("<a\\b[^>]*\\bhref=\"([^\"]+)\"")]
    private static partial Regex Link();

    [GeneratedRegex("handler=([A-Za-z]+)")]
    private static partial Regex Handler();

    [GeneratedRegex("\\bname=\"([^\"]+)\"")]
    private static partial Regex Field();
}
