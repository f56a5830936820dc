using Microsoft.Playwright;
using Traceability.PlantSimulator.Story;

namespace Traceability.Browser.Tests.Pages;

/// <summary>Where somebody is signed in, and how it ends: clicked as that person, and as the administrator, in a real Chromium.</summary>
[Collection(PagesCollection.Name)]
public sealed class Sessions_in_a_browser(CastPlant cast) : PagesTest(cast)
{
    private static async Task IsSignedOutAsync(IPage page)
    {
        await page.ReloadAsync();
        await page.GetByLabel("Person id").WaitForAsync();
    }

    [Fact]
    public async Task A_person_sees_the_own_sessions_and_signs_out_of_one_and_of_all_others()
    {
        var desk = await SignInAsync(Plant.Receiver);
        var tablet = await SignInAsync(Plant.Receiver, 800, 1280);
        var office = await SignInAsync(Plant.Receiver);
        await GoAsync(desk, "/account");
        var lines = desk.Locator("section[aria-labelledby=h-sessions] li.line");
        Assert.Equal(3, await lines.CountAsync());
        Assert.Contains("Chrome on Linux", await lines.First.InnerTextAsync(), StringComparison.Ordinal);
        Assert.Contains("this browser", await lines.First.InnerTextAsync(), StringComparison.Ordinal);
        await lines.Nth(1).Locator("summary").ClickAsync();
        await PictureAsync(desk, "account-sessions");

        await lines.Nth(1).GetByLabel("Your password").FillAsync("not the password");
        await lines.Nth(1).GetByRole(AriaRole.Button, new() { Name = "Sign out there" }).ClickAsync();
        await desk.Locator("main [role=alert]").WaitForAsync();
        Assert.Equal(3, await lines.CountAsync());

        // The form that was refused is open again. Of the two others the one that was last used stands first.
        await lines.Nth(1).GetByLabel("Your password").FillAsync(Running.Credentials.Person(Plant.Receiver.Id).Password);
        await lines.Nth(1).GetByRole(AriaRole.Button, new() { Name = "Sign out there" }).ClickAsync();
        await desk.Locator("main [role=status]", new() { HasText = "Signed out there." }).WaitForAsync();
        Assert.Equal(2, await lines.CountAsync());
        await IsSignedOutAsync(office);

        await desk.GetByText("Sign out everywhere else").ClickAsync();
        await desk.Locator("#end-others").FillAsync(Running.Credentials.Person(Plant.Receiver.Id).Password);
        await desk.GetByRole(AriaRole.Button, new() { Name = "Sign out of all other browsers" }).ClickAsync();
        await desk.Locator("main [role=status]", new() { HasText = "Signed out there." }).WaitForAsync();
        await IsSignedOutAsync(tablet);
        await PictureAsync(desk, "account-sessions-ended");
        await desk.SetViewportSizeAsync(390, 844);
        await GoAsync(desk, "/account");
        Assert.Equal(1, await lines.CountAsync());
        await PictureAsync(desk, "account-sessions-narrow");
    }

    [Fact]
    public async Task An_administrator_signs_a_person_out_everywhere_after_the_pin()
    {
        var open = await SignInAsync(Plant.BatchOperator);
        var page = await SignInAsync(Plant.Administrator);
        await GoAsync(page, "/people");
        await page.GetByText("Change " + Plant.BatchOperator.Id).ClickAsync();
        var row = page.Locator("tr", new() { HasText = Plant.BatchOperator.Id });
        await row.Locator("summary", new() { HasText = "Sign out everywhere" }).ClickAsync();
        var form = row.Locator("form", new() { Has = page.GetByRole(AriaRole.Button, new() { Name = "Sign out now" }) });
        await PictureAsync(page, "people-sign-out");
        await form.GetByLabel("Your PIN").FillAsync(WrongPin);
        await form.GetByRole(AriaRole.Button).ClickAsync();
        await page.Locator("main [role=alert]", new() { HasText = "PIN" }).WaitForAsync();
        await open.ReloadAsync();
        Assert.Equal(0, await open.GetByLabel("Person id").CountAsync());

        await form.GetByLabel("Your PIN").FillAsync(Pin(Plant.Administrator));
        await form.GetByRole(AriaRole.Button).ClickAsync();
        await page.Locator("main [role=status]", new() { HasText = "is signed out everywhere" }).WaitForAsync();
        await IsSignedOutAsync(open);
        Assert.Equal("1", (await Running.RowsAsync($"select count(*) from trace.record where type = 'person.sessions-ended.v1' and stream = 'account:{Plant.BatchOperator.Id}'"))[0][0]);
    }
}
