using Microsoft.Playwright;
using Traceability.Browser.Tests.Hosting;
using Traceability.PlantSimulator.Story;

namespace Traceability.Browser.Tests.Pages;

/// <summary>What a browser makes of the headers that come with each answer.</summary>
[Collection(PagesCollection.Name)]
public sealed class Edge_in_a_browser(CastPlant cast) : PagesTest(cast)
{
    [Fact]
    public async Task Pages_and_the_page_of_the_API_run_under_their_policy_and_ask_no_other_host()
    {
        var page = await SignInAsync(Plant.QualityEngineer);
        var complaints = new List<string>();
        var asked = new List<string>();
        page.Console += (_, message) => { if (message.Type == "error") complaints.Add(message.Text); };
        page.Request += (_, request) => { if (new Uri(request.Url).Scheme is "http" or "https") asked.Add(new Uri(request.Url).Authority); };
        foreach (var path in new[] { "/", "/units", "/profiles", "/integrity", "/waiting", "/account" })
        {
            await GoAsync(page, path);
            await page.GetByRole(AriaRole.Heading, new() { Level = 1 }).WaitForAsync();
        }

        await GoAsync(page, "/api-docs");
        await page.GetByText("Take in one fact or a batch of facts").WaitForAsync();
        Assert.False(await page.Locator(".topbar").IsVisibleAsync());
        await PictureAsync(page, "api");
        Assert.Empty(complaints);
        Assert.Equal([Running.Address.Authority], asked.Distinct());
    }

    [Fact]
    public async Task A_copied_cookie_opens_nothing_after_its_person_signed_out()
    {
        var page = await SignInAsync(Plant.QualityEngineer);
        var cookies = await page.Context.CookiesAsync();
        await page.GetByRole(AriaRole.Button, new() { Name = "Sign out" }).ClickAsync();
        await page.GetByLabel("Person id").WaitForAsync();

        var copied = await Browser.NewContextAsync();
        await copied.AddCookiesAsync(cookies.Select(c => new Cookie { Name = c.Name, Value = c.Value, Domain = c.Domain, Path = c.Path }));
        var other = await copied.NewPageAsync();
        await GoAsync(other, "/units");
        await other.GetByLabel("Person id").WaitForAsync();
    }
}
