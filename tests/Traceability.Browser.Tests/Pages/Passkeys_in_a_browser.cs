using System.Net;
using Microsoft.Playwright;
using Traceability.Browser.Tests.Hosting;
using Traceability.PlantSimulator.Story;

namespace Traceability.Browser.Tests.Pages;

/// <summary>
/// Signing in with a passkey beside the password, in a real Chromium with a virtual authenticator (W3C Web Authentication, Level 2, section 11: user agent automation),
/// at a service that asks it of administrators and those who decide.
/// </summary>
[Collection(PagesCollection.Name)]
public sealed class Passkeys_in_a_browser(CastPlant cast) : PagesTest(cast)
{
    private const string ProofPin = "31415926";

    private string _password = "wet gravel at seven";

    private Uri _address = null!;

    private Task OpenAsync(IPage page, string path) => page.GotoAsync(new Uri(_address, path).ToString());

    private async Task PasswordAsync(IPage page, string person)
    {
        await OpenAsync(page, "/sign-in");
        await page.GetByLabel("Person id").FillAsync(person);
        await page.GetByLabel("Password").FillAsync(_password);
        await page.GetByRole(AriaRole.Button, new() { Name = "Sign in" }).ClickAsync();
    }

    private static Task AlertAsync(IPage page, string text) => page.Locator("main [role=alert]", new() { HasText = text }).WaitForAsync();

    private static Task PressAsync(IPage page, string button) => page.GetByRole(AriaRole.Button, new() { Name = button }).ClickAsync();

    private static async Task SignOutAsync(IPage page)
    {
        await PressAsync(page, "Sign out");
        await page.GetByRole(AriaRole.Heading, new() { Name = "Sign in" }).WaitForAsync();
    }

    // A new administrator, whose secrets are chosen: nothing but the passkey is missing.
    private async Task<string> AdministratorAsync(string id)
    {
        using var http = await Running.SignInAsync(Plant.Administrator);
        using var made = await System.Net.Http.Json.HttpClientJsonExtensions.PostAsJsonAsync(http, "/v1/people", new { id, displayName = "Another administrator", roles = new[] { "administrator" } });
        var first = (await System.Net.Http.Json.HttpContentJsonExtensions.ReadFromJsonAsync<System.Text.Json.JsonElement>(made.Content)).GetProperty("password").GetString()!;
        using var own = new HttpClient { BaseAddress = Running.Address };
        (await System.Net.Http.Json.HttpClientJsonExtensions.PostAsJsonAsync(own, "/v1/sign-in", new { person = id, password = first })).EnsureSuccessStatusCode();
        (await System.Net.Http.Json.HttpClientJsonExtensions.PostAsJsonAsync(own, $"/v1/people/{id}/own-secrets", new { password = first, newPassword = _password, newPin = ProofPin })).EnsureSuccessStatusCode();
        return id;
    }

    [Fact]
    public async Task Who_needs_a_passkey_adds_one_signs_in_with_it_and_nobody_does_without_it_with_a_copy_or_with_an_answer_of_before()
    {
        var person = await AdministratorAsync("p-160");
        using var beside = await Running.StartBesideAsync(("Passkeys__Domain", "localhost"), ("Passkeys__Required", "true"));
        // Browsers bind a passkey to a name; the machine itself is called so.
        _address = new UriBuilder(beside.Address) { Host = "localhost" }.Uri;
        var page = await (await Browser.NewContextAsync(new() { ViewportSize = new() { Width = 1440, Height = 900 } })).NewPageAsync();
        page.SetDefaultTimeout(20_000);
        var devtools = await page.Context.NewCDPSessionAsync(page);
        await devtools.SendAsync("WebAuthn.enable");
        async Task<string> PlugInAsync() => (await devtools.SendAsync("WebAuthn.addVirtualAuthenticator", new()
        {
            ["options"] = new Dictionary<string, object>
            {
                ["protocol"] = "ctap2", ["transport"] = "usb", ["hasResidentKey"] = true, ["hasUserVerification"] = true, ["isUserVerified"] = true, ["automaticPresenceSimulation"] = true,
            },
        }))!.Value.GetProperty("authenticatorId").GetString()!;
        Task UnplugAsync(string authenticator) => devtools.SendAsync("WebAuthn.removeVirtualAuthenticator", new() { ["authenticatorId"] = authenticator });
        var stick = await PlugInAsync();

        // With the password alone this person reads, and is led to where the passkey is added.
        await PasswordAsync(page, person);
        await page.GetByText("You need a passkey here").WaitForAsync();
        await PictureAsync(page, "passkey-needed");
        var refused = await page.APIRequest.PostAsync(new Uri(_address, "/v1/devices/codes").ToString(), new() { DataObject = new { roles = new[] { "yard" } }, Headers = [KeyValuePair.Create("Sec-Fetch-Site", "same-origin")] });
        Assert.Equal((int)HttpStatusCode.Forbidden, refused.Status);
        Assert.Contains("passkey-needed", await refused.TextAsync(), StringComparison.Ordinal);

        await page.GetByLabel("What you call it").FillAsync("Blue stick");
        await page.GetByLabel("Password in use, for the passkey").FillAsync("not this");
        await PressAsync(page, "Add a passkey");
        await AlertAsync(page, "not right");
        await page.GetByLabel("What you call it").FillAsync("Blue stick");
        await page.GetByLabel("Password in use, for the passkey").FillAsync(_password);
        await PressAsync(page, "Add a passkey");
        await PictureAsync(page, "passkey-make");
        await PressAsync(page, "Make the passkey");
        await page.Locator("li.line", new() { HasText = "Blue stick" }).WaitForAsync();
        await PictureAsync(page, "passkey-added");
        Assert.Equal("1", (await Running.RowsAsync("select count(*) from trace.record where type = 'passkey.added.v1'"))[0][0]);

        // The same stick a second time is no second one.
        await page.GetByLabel("Password in use, for the passkey").FillAsync(_password);
        await PressAsync(page, "Add a passkey");
        await PressAsync(page, "Make the passkey");
        await AlertAsync(page, "added already");
        await OpenAsync(page, "/devices");
        await page.GetByRole(AriaRole.Button, new() { Name = "Make a code" }).WaitForAsync();

        // Signed out, the password alone opens nothing any more.
        await SignOutAsync(page);
        await PasswordAsync(page, person);
        await page.GetByText("The password is right").WaitForAsync();
        await PictureAsync(page, "passkey-use");
        await OpenAsync(page, "/devices");
        await page.GetByRole(AriaRole.Heading, new() { Name = "Sign in" }).WaitForAsync();

        // Lost for good: a new first password takes the old passkey away, and another is added with it.
        await UnplugAsync(stick);
        await PlugInAsync();
        using (var administrator = await Running.SignInAsync(Plant.Administrator))
        {
            using var given = await System.Net.Http.Json.HttpClientJsonExtensions.PostAsJsonAsync(administrator, $"/v1/people/{person}/secrets", new { pin = Pin(Plant.Administrator) });
            var first = (await System.Net.Http.Json.HttpContentJsonExtensions.ReadFromJsonAsync<System.Text.Json.JsonElement>(given.Content)).GetProperty("password").GetString()!;
            using var own = new HttpClient { BaseAddress = Running.Address };
            (await System.Net.Http.Json.HttpClientJsonExtensions.PostAsJsonAsync(own, "/v1/sign-in", new { person, password = first })).EnsureSuccessStatusCode();
            (await System.Net.Http.Json.HttpClientJsonExtensions.PostAsJsonAsync(own, $"/v1/people/{person}/own-secrets", new { password = first, newPassword = _password = "dry gravel at eight", newPin = "27182818" })).EnsureSuccessStatusCode();
        }

        // The process beside learns of it a moment later; until then the new password is not right there.
        await RunningPlant.EventuallyAsync(async () =>
        {
            await PasswordAsync(page, person);
            return await page.GetByText("You need a passkey here").CountAsync() > 0;
        }, "the new password signs in");
        await page.GetByText("You need a passkey here").WaitForAsync();
        await page.GetByLabel("Password in use, for the passkey").FillAsync(_password);
        await PressAsync(page, "Add a passkey");
        await PressAsync(page, "Make the passkey");
        await page.Locator("li.line", new() { HasText = "added" }).WaitForAsync();

        // An answer that somebody caught is good for nothing a second time.
        await SignOutAsync(page);
        await PasswordAsync(page, person);
        string? caught = null;
        page.Request += (_, request) => { if (request.Method == "POST" && request.Url.Contains("handler=Passkey", StringComparison.Ordinal)) caught = System.Web.HttpUtility.ParseQueryString(request.PostData!)["answer"]; };
        await PressAsync(page, "Use the passkey");
        await page.GetByRole(AriaRole.Heading, new() { Name = "Board" }).WaitForAsync();
        Assert.NotNull(caught);
        await SignOutAsync(page);
        await PasswordAsync(page, person);
        await page.GetByText("The password is right").WaitForAsync();
        await page.Locator("input[name=answer]").EvaluateAsync("(field, answer) => { field.value = answer; field.form.requestSubmit(); }", caught);
        await AlertAsync(page, "already used");

        // One that counts back was copied.
        await Running.RowsAsync("update trace.passkey_use set count = 1000 returning credential");
        await PasswordAsync(page, person);
        await PressAsync(page, "Use the passkey");
        await AlertAsync(page, "The passkey does not fit");
        await Running.RowsAsync("update trace.passkey_use set count = 1 returning credential");
        await PasswordAsync(page, person);
        await PressAsync(page, "Use the passkey");
        await page.GetByRole(AriaRole.Heading, new() { Name = "Board" }).WaitForAsync();

        // Removed with the password.
        await OpenAsync(page, "/account");
        await page.Locator("summary", new() { HasText = "Remove" }).ClickAsync();
        await page.Locator("li.line").GetByLabel("Password in use").FillAsync(_password);
        await PressAsync(page, "Remove this passkey");
        await page.GetByText("You have none.").WaitForAsync();
        await page.GetByText("You need a passkey here").WaitForAsync();
    }
}
