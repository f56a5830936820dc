using System.Net;
using System.Net.Http.Json;
using System.Text.Json;
using Microsoft.Playwright;
using Traceability.Browser.Tests.Hosting;
using Traceability.PlantSimulator.Acting;
using Traceability.PlantSimulator.Story;

namespace Traceability.Browser.Tests.Pages;

/// <summary>
/// Signing in with a passkey beside the password, in a real Chromium with a virtual authenticator (W3C Web Authentication, Level 2, section 11: user agent automation),
/// at a service that asks it of administrators and those who decide.
/// </summary>
[Collection(PagesCollection.Name)]
public sealed class Passkeys_in_a_browser(CastPlant cast) : PagesTest(cast)
{
    private string _password = "wet gravel at seven", _pin = "";

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

    // Nothing but the passkey is missing.
    private async Task ChooseAsync(string id, JsonElement given, string pin) =>
        await OwnSecrets.ChooseAsync(Running.Address, new PersonCredential(id, id, _pin = pin, _password, given.GetProperty("password").GetString()!, []), CancellationToken.None);

    private async Task<JsonElement> AdministerAsync(string path, object body)
    {
        using var http = await Running.SignInAsync(Plant.Administrator);
        using var answer = await http.PostAsJsonAsync("/v1/" + path, body);
        answer.EnsureSuccessStatusCode();
        return await answer.Content.ReadFromJsonAsync<JsonElement>();
    }

    [Fact]
    public async Task Who_needs_a_passkey_adds_one_signs_in_with_it_and_nobody_does_without_it_with_a_copy_or_with_an_answer_of_before()
    {
        const string person = "p-160";
        await ChooseAsync(person, await AdministerAsync("people", new { id = person, displayName = "Another administrator", roles = new[] { "administrator" } }), "31415926");
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
        await page.GetByLabel("PIN in use, for the passkey").FillAsync(_pin);
        await PressAsync(page, "Add a passkey");
        await AlertAsync(page, "not right");
        await page.GetByLabel("What you call it").FillAsync("Blue stick");
        await page.GetByLabel("Password in use, for the passkey").FillAsync(_password);
        await page.GetByLabel("PIN in use, for the passkey").FillAsync(_pin);
        await PressAsync(page, "Add a passkey");
        await PictureAsync(page, "passkey-make");
        await PressAsync(page, "Make the passkey");
        await page.Locator("li.line", new() { HasText = "Blue stick" }).WaitForAsync();
        await PictureAsync(page, "passkey-added");
        Assert.Equal("1", (await Running.RowsAsync("select count(*) from trace.record where type = 'passkey.added.v1'"))[0][0]);

        // The same stick a second time is no second one.
        await page.GetByLabel("Password in use, for the passkey").FillAsync(_password);
        await page.GetByLabel("PIN in use, for the passkey").FillAsync(_pin);
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
        var anew = await AdministerAsync($"people/{person}/secrets", new { pin = Pin(Plant.Administrator) });
        _password = "dry gravel at eight";
        await ChooseAsync(person, anew, "27182818");

        // The process beside learns of it a moment later; until then the new password is not right there.
        await RunningPlant.EventuallyAsync(async () =>
        {
            await PasswordAsync(page, person);
            return await page.GetByText("You need a passkey here").CountAsync() > 0;
        }, "the new password signs in");
        await page.GetByText("You need a passkey here").WaitForAsync();
        await page.GetByLabel("Password in use, for the passkey").FillAsync(_password);
        await page.GetByLabel("PIN in use, for the passkey").FillAsync(_pin);
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
